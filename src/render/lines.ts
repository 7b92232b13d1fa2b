import { sortedUnique } from '../base/order.js';
import type { Rulebook } from '../rulebook/types.js';
import { CARD_LINES } from './card-types.js';
import type { Card } from './card-types.js';
import type { AdvisoryCard } from './card.js';

/**
 * Puts what is worth a line and no card on the first shown card of the same hip and construct. It changes no option, so
 * a card that was answered stays answered when only such a line changed; without a card it stays unsaid here, and is
 * told on the page. `shown` is in the order of the answer; only what is about a hip, and not about the record, carries it.
 */
export function withLines(
  shown: readonly AdvisoryCard[],
  lines: readonly AdvisoryCard[],
  { rules }: Rulebook,
): readonly Card[] {
  if (lines.length === 0) return shown.map(({ card }) => card);
  const mayCarry = new Set(rules.filter(({ type }) => type === 'clinical').map(({ id }) => id));
  const carriers = new Map<AdvisoryCard, AdvisoryCard[]>();
  for (const line of lines) {
    const first = shown.find((one) => mayCarry.has(one.rule) && isBeside(one, line));
    if (first) carriers.set(first, [...(carriers.get(first) ?? []), line]);
  }
  return shown.map((one) => carrying(one.card, carriers.get(one) ?? []));
}

function isBeside(one: AdvisoryCard, line: AdvisoryCard): boolean {
  return one.construct === line.construct && (one.hip === line.hip || one.isOfBoth === true);
}

function carrying(card: Card, lines: readonly AdvisoryCard[]): Card {
  if (lines.length === 0) return card;
  const blocks = card.detail.split('\n\n');
  const messages = [...new Set(lines.map(({ message }) => message))];
  const beside = `Also, changing no option: ${messages.join('; ')}.`;
  return {
    ...card,
    detail: [...blocks.slice(0, CARD_LINES), beside, ...blocks.slice(CARD_LINES)].join('\n\n'),
    extension: {
      'example.kotyle.advisory': {
        ...card.extension['example.kotyle.advisory'],
        lines: sortedUnique(lines.map(({ rule }) => rule)),
      },
    },
  };
}
