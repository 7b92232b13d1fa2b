import { byText } from '../base/order.js';
import type { AdvisoryCard } from './card.js';
import type { Card, Indicator } from './card-types.js';

const INDICATOR_ORDER: readonly Indicator[] = ['critical', 'warning', 'info'];

/**
 * Critical first, then warning, then info; inside each what the rulebook puts first, because that is what a ceiling
 * keeps; the rest by rule and hip, so that order says nothing else.
 */
export function sortCards(cards: readonly Card[], first: readonly string[]): readonly Card[] {
  const ordered = cards.map((card) => {
    const { indicator, source, summary } = card;
    return { card, indicator, rule: source.topic.code, summary };
  });
  return sortByHead(ordered, first).map(({ card }) => card);
}

/** `sortCards` by what is known of a card before it is written. */
export function sortByHead<Head extends Pick<AdvisoryCard, 'indicator' | 'rule' | 'summary'>>(
  heads: readonly Head[],
  first: readonly string[],
): readonly Head[] {
  if (heads.length < 2) return heads;
  const byRule = byText(({ rule, summary }: Head) => `${rule} ${summary}`);
  const place = ({ rule }: Head): number => {
    const index = first.indexOf(rule);
    return index < 0 ? first.length : index;
  };
  return [...heads].sort(
    (a, b) =>
      INDICATOR_ORDER.indexOf(a.indicator) - INDICATOR_ORDER.indexOf(b.indicator) ||
      place(a) - place(b) ||
      byRule(a, b),
  );
}
