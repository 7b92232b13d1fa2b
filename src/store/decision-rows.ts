import type { Insertable, Kysely } from 'kysely';
import type { DecisionRecord } from './store.js';
import type { Tables } from './tables.js';

/** Rows written by one statement; databases limit the values a statement may carry. */
const ROWS_AT_ONCE = 500;

export async function keepDecision(db: Kysely<Tables>, record: DecisionRecord): Promise<void> {
  const { id, key, at, iss, service, patient } = record;
  const { numInsertedOrUpdatedRows } = await db
    .insertInto('decisions')
    .values({ id, key, at, iss, service, patient, record: JSON.stringify(record) })
    .onConflict((conflict) => conflict.column('id').doNothing())
    .executeTakeFirst();
  if (numInsertedOrUpdatedRows === 0n) {
    await expectSameCall(db, record);
    return;
  }
  await insertAll(db, 'cards', cardRows(record));
  await insertAll(db, 'firings', firingRows(record));
  await insertAll(db, 'unmapped', unmappedRows(record));
}

/** An id follows from the call among other things, so that another call under it was never kept. */
async function expectSameCall(db: Kysely<Tables>, { id, key }: DecisionRecord): Promise<void> {
  const kept = await db.selectFrom('decisions').select('key').where('id', '=', id).executeTakeFirst();
  if (kept?.key !== key) throw new Error(`expected evaluation ${id} of one call, found it kept for another`);
}

async function insertAll<Table extends 'cards' | 'firings' | 'unmapped'>(
  db: Kysely<Tables>,
  table: Table,
  rows: readonly Insertable<Tables[Table]>[],
): Promise<void> {
  for (let from = 0; from < rows.length; from += ROWS_AT_ONCE) {
    await db
      .insertInto(table)
      .values(rows.slice(from, from + ROWS_AT_ONCE))
      .execute();
  }
}

function cardRows({ id, cards }: DecisionRecord): readonly Tables['cards'][] {
  return cards.map(({ uuid, rule, acknowledgement }) => ({
    decision: id,
    uuid,
    rule,
    acknowledgement: acknowledgement ?? null,
  }));
}

function firingRows({ id, outcomes }: DecisionRecord): readonly Tables['firings'][] {
  return outcomes
    .filter(({ outcome }) => outcome === 'fires')
    .map(({ rule, hip, construct, shown }) => ({ decision: id, rule, hip, construct, shown: shown ? 1 : 0 }));
}

function unmappedRows({ id, unmapped }: DecisionRecord): readonly Tables['unmapped'][] {
  return unmapped.map(({ resourceType, element, system, code, count }) => ({
    decision: id,
    resource_type: resourceType,
    element,
    system: system ?? null,
    code,
    count,
  }));
}

export async function readDecision(db: Kysely<Tables>, id: string): Promise<DecisionRecord | undefined> {
  const row = await db.selectFrom('decisions').select('record').where('id', '=', id).executeTakeFirst();
  return row && (JSON.parse(row.record) as DecisionRecord);
}
