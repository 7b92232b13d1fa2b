import type { EngineFault } from '../engine/evaluate.js';
import { cardFaults } from '../render/card-check.js';
import type { Card } from '../render/card-types.js';

/**
 * The cards that a client can show. One that it could not is left out and told as a fault of its rule; only where that
 * leaves nothing does `instead` speak, because an answer without a card would read as nothing found.
 */
export function checkedCards(
  cards: readonly Card[],
  instead: (broken: readonly string[]) => Card,
): { readonly cards: readonly Card[]; readonly faults: readonly EngineFault[] } {
  const faults: EngineFault[] = [];
  const shown = cards.filter((card) => {
    const wrong = cardFaults(card);
    if (wrong.length > 0) faults.push(faultOf(card, wrong));
    return wrong.length === 0;
  });
  if (faults.length === 0 || shown.length > 0) return { cards: shown, faults };
  const generic = instead(faults.map(({ rule }) => rule));
  const wrong = cardFaults(generic);
  if (wrong.length > 0) throw new Error(`no card can be shown: ${wrong.join('; ')}`);
  return { cards: [generic], faults };
}

function faultOf(card: Card, wrong: readonly string[]): EngineFault {
  const error = new Error(`a card no client could show: ${wrong.join('; ')}`);
  return { rule: card.source.topic.code, hip: 'unknown', construct: 'planned', error };
}
