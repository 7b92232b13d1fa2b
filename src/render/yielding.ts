import type { Rule } from '../rulebook/types.js';
import type { AdvisoryCard } from './card.js';

export interface Yielding {
  readonly cards: readonly AdvisoryCard[];
  /** Cards that leave the word to another that says it better. */
  readonly yielded: readonly AdvisoryCard[];
}

/**
 * Parts cards from those whose rule leaves the word to another that speaks of the same hip and construct. A card that
 * itself leaves the word to a third silences nobody, so that nothing is lost in a chain.
 */
export function leaveTheWord(cards: readonly AdvisoryCard[], rules: readonly Rule[]): Yielding {
  const yieldsTo = new Map(rules.map(({ id, yieldsTo: others = [] }) => [id, others]));
  const speaks = (card: AdvisoryCard): boolean =>
    !(yieldsTo.get(card.rule) ?? []).some((id) =>
      cards.some((other) => other.rule === id && isSameConstruct(other, card) && speaks(other)),
    );
  return { cards: cards.filter(speaks), yielded: cards.filter((card) => !speaks(card)) };
}

function isSameConstruct(a: AdvisoryCard, b: AdvisoryCard): boolean {
  return a.hip === b.hip && a.construct === b.construct;
}
