import type { Insertable, Kysely } from 'kysely';
import { sha256 } from './chain-entry.js';
import type { Covered } from './chain-entry.js';
import type { Contents } from './contents.js';
import { decisionPages } from './row-pages.js';
import type { DecisionRecord, Selection } from './store.js';
import type { Tables } from './tables.js';

/** Rows written by one statement; databases limit the values a statement may carry. */
const ROWS_AT_ONCE = 500;

/** A decision and, packed, what it was made from. */
export interface DecisionToKeep {
  readonly record: DecisionRecord;
  readonly content?: Buffer | undefined;
}

export async function keepDecision(
  db: Kysely<Tables>,
  { record, content }: DecisionToKeep,
  contents: Contents,
): Promise<readonly Covered[]> {
  const row = decisionRow(record);
  const { id, at, patient } = row;
  const { numInsertedOrUpdatedRows } = await db
    .insertInto('decisions')
    .values(row)
    .onConflict((conflict) => conflict.column('id').doNothing())
    .executeTakeFirst();
  if (numInsertedOrUpdatedRows === 0n) {
    await expectSameCall(db, record);
    return [];
  }
  await insertAll(db, 'cards', cardRows(record));
  await insertAll(db, 'firings', firingRows(record));
  await insertAll(db, 'unmapped', unmappedRows(record));
  const kept = { kind: 'decision', of: id, digest: sha256(row.record), moment: at } as const;
  if (!content) return [kept];
  return [kept, ...(await contents.put(db, { kind: 'decision', of: id, patient, bytes: content }, at))];
}

export function decisionRow(record: DecisionRecord): Tables['decisions'] {
  const { id, key, at, iss, service, patient } = record;
  return { id, key, at, iss, service, patient, record: JSON.stringify(record) };
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

export function cardRows({ id, cards }: DecisionRecord): readonly Tables['cards'][] {
  return cards.map(({ uuid, rule, acknowledgement }) => ({
    decision: id,
    uuid,
    rule,
    acknowledgement: acknowledgement ?? null,
  }));
}

export function firingRows({ id, outcomes }: DecisionRecord): readonly Tables['firings'][] {
  return outcomes
    .filter(({ outcome }) => outcome === 'fires')
    .map(({ rule, hip, construct, shown }) => ({ decision: id, rule, hip, construct, shown: shown ? 1 : 0 }));
}

export function unmappedRows({ id, unmapped }: DecisionRecord): readonly Tables['unmapped'][] {
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

export async function* readDecisions(
  db: Kysely<Tables>,
  selection?: Selection,
): AsyncGenerator<DecisionRecord, void, undefined> {
  for await (const rows of decisionPages(db, selection))
    for (const { record } of rows) yield JSON.parse(record) as DecisionRecord;
}
