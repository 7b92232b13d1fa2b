import type { Kysely } from 'kysely';
import type { Tables } from './tables.js';

/** The rule behind each card, where the card is known. A card id stands for one rule, however often it was given out. */
export async function rulesOfCards(
  db: Kysely<Tables>,
  cards: readonly string[],
): Promise<ReadonlyMap<string, string>> {
  if (cards.length === 0) return new Map();
  const rows = await db
    .selectFrom('cards')
    .select(['uuid', 'rule'])
    .distinct()
    .where('uuid', 'in', [...new Set(cards)])
    .execute();
  return new Map(rows.map(({ uuid, rule }) => [uuid, rule]));
}
