import { contentHash } from '../base/hash.js';
import { lazy } from '../base/lazy.js';
import { sortedUnique } from '../base/order.js';
import type { Rule } from '../rulebook/types.js';
import { CARD_LINES } from './card-types.js';
import type { Card } from './card-types.js';
import type { AdvisoryCard } from './card.js';

export interface Yielding {
  readonly cards: readonly AdvisoryCard[];
  /** Cards that leave the word to another that says it better. */
  readonly yielded: readonly AdvisoryCard[];
}

/**
 * Parts cards from those whose rule leaves the word to another that speaks of the same hip and construct. A card that
 * itself leaves the word to a third silences nobody, so that nothing is lost in a chain. What leaves the word is named
 * on the card that keeps it, and answering that card answers both: when either changes, the card comes back.
 */
export function leaveTheWord(cards: readonly AdvisoryCard[], rules: readonly Rule[]): Yielding {
  const yieldsTo = new Map(rules.map(({ id, yieldsTo: others = [] }) => [id, others]));
  const speakerFor = (card: AdvisoryCard): AdvisoryCard | undefined =>
    (yieldsTo.get(card.rule) ?? [])
      .flatMap((id) => cards.filter((other) => other.rule === id && isSameConstruct(other, card)))
      .find((other) => speakerFor(other) === undefined);
  const yielded = cards.filter((card) => speakerFor(card) !== undefined);
  const speaking = cards.filter((card) => !yielded.includes(card));
  return {
    cards: speaking.map((card) =>
      tellingWith(
        card,
        yielded.filter((other) => speakerFor(other) === card),
      ),
    ),
    yielded,
  };
}

function isSameConstruct(a: AdvisoryCard, b: AdvisoryCard): boolean {
  return a.hip === b.hip && a.construct === b.construct;
}

function tellingWith(one: AdvisoryCard, others: readonly AdvisoryCard[]): AdvisoryCard {
  if (others.length === 0) return one;
  const acknowledgement = lazy(() =>
    contentHash([one.acknowledgement, ...sortedUnique(others.map((other) => other.acknowledgement))]),
  );
  const card = lazy(() => namingOthers(one.card, others, acknowledgement()));
  const { rule, indicator, summary, hip, construct, message, about, intent } = one;
  return {
    get card() {
      return card();
    },
    rule,
    indicator,
    summary,
    hip,
    construct,
    message,
    about,
    intent,
    get acknowledgement() {
      return acknowledgement();
    },
  };
}

function namingOthers(card: Card, others: readonly AdvisoryCard[], acknowledgement: string): Card {
  const blocks = card.detail.split('\n\n');
  const beside = `Also found, on no card of its own: ${others.map(({ message }) => message).join('; ')}.`;
  return {
    ...card,
    detail: [...blocks.slice(0, CARD_LINES), beside, ...blocks.slice(CARD_LINES)].join('\n\n'),
    extension: {
      'example.kotyle.advisory': {
        ...card.extension['example.kotyle.advisory'],
        acknowledgement,
        alsoFound: others.map(({ rule }) => rule),
      },
    },
  };
}
