import type { Kysely } from 'kysely';
import type { Covered } from './chain-entry.js';
import type { Pruned } from './store.js';
import type { Tables } from './tables.js';

/** Rows removed in one transaction, so that calls never wait long behind it. */
const ROWS_AT_ONCE = 200;
const DAY_MS = 86_400_000;

/** Removes some rows that are past their time. */
interface PruneStep {
  readonly of: keyof Pruned;
  /** How the chain calls them; left out where it says nothing of them. */
  readonly kind?: Covered['kind'];
  /** Rows of an earlier time go. */
  readonly moment: string;
  readonly some: (db: Kysely<Tables>) => Promise<number>;
}

export interface PrunedSome {
  readonly removed: number;
  readonly covered: readonly Covered[];
}

/** Does one step; the chain tells up to which moment rows of a kind may be gone. */
export async function pruneSome(db: Kysely<Tables>, { kind, moment, some }: PruneStep): Promise<PrunedSome> {
  const removed = await some(db);
  const covered =
    kind === undefined || removed === 0 ? [] : [{ kind: 'pruning', of: kind, digest: '', moment } as const];
  return { removed, covered };
}

/** What is past its time at an instant, in an order in which nothing is left that refers to what is gone. */
export function pruneSteps(now: Date, keepRecordDays: number): readonly PruneStep[] {
  const at = now.toISOString();
  const cut = new Date(now.getTime() - keepRecordDays * DAY_MS).toISOString();
  const short: readonly PruneStep[] = [
    { of: 'contents', kind: 'content', moment: at, some: (db) => removeContents(db, at) },
    { of: 'keys', moment: at, some: removeIdleKeys },
    { of: 'tokens', moment: at, some: (db) => removeTokens(db, now.getTime()) },
  ];
  if (keepRecordDays === 0) return short;
  return [
    ...short,
    { of: 'decisions', kind: 'decision', moment: cut, some: (db) => removeDecisions(db, cut) },
    { of: 'answers', kind: 'feedback', moment: cut, some: (db) => removeAnswers(db, cut) },
    { of: 'differences', kind: 'difference', moment: cut, some: (db) => removeDifferences(db, cut) },
  ];
}

async function removeContents(db: Kysely<Tables>, at: string): Promise<number> {
  const rows = await db
    .selectFrom('contents')
    .select(['kind', 'of'])
    .where('until', '<', at)
    .limit(ROWS_AT_ONCE)
    .execute();
  for (const { kind, of } of rows)
    await db.deleteFrom('contents').where('of', '=', of).where('kind', '=', kind).execute();
  return rows.length;
}

/** A key under which nothing is sealed any more. */
async function removeIdleKeys(db: Kysely<Tables>): Promise<number> {
  const rows = await db
    .selectFrom('data_keys')
    .select('id')
    .where((where) =>
      where.not(
        where.exists(
          where.selectFrom('contents').select('contents.of').whereRef('contents.key', '=', 'data_keys.id'),
        ),
      ),
    )
    .limit(ROWS_AT_ONCE)
    .execute();
  await removeIn(db, 'data_keys', 'id', ids(rows));
  return rows.length;
}

async function removeTokens(db: Kysely<Tables>, nowMs: number): Promise<number> {
  const rows = await db
    .selectFrom('tokens')
    .select('digest')
    .where('until', '<', nowMs)
    .limit(ROWS_AT_ONCE)
    .execute();
  const digests = rows.map(({ digest }) => digest);
  if (digests.length > 0) await db.deleteFrom('tokens').where('digest', 'in', digests).execute();
  return rows.length;
}

async function removeDecisions(db: Kysely<Tables>, cut: string): Promise<number> {
  const rows = await db
    .selectFrom('decisions')
    .select('id')
    .where('at', '<', cut)
    .limit(ROWS_AT_ONCE)
    .execute();
  for (const table of ['cards', 'firings', 'unmapped'] as const)
    if (rows.length > 0) await db.deleteFrom(table).where('decision', 'in', ids(rows)).execute();
  await removeIn(db, 'decisions', 'id', ids(rows));
  return rows.length;
}

async function removeAnswers(db: Kysely<Tables>, cut: string): Promise<number> {
  const rows = await db
    .selectFrom('feedback')
    .select('digest')
    .where('received_at', '<', cut)
    .limit(ROWS_AT_ONCE)
    .execute();
  const digests = rows.map(({ digest }) => digest);
  if (digests.length > 0) await db.deleteFrom('feedback').where('digest', 'in', digests).execute();
  return rows.length;
}

async function removeDifferences(db: Kysely<Tables>, cut: string): Promise<number> {
  const rows = await db
    .selectFrom('differences')
    .select('id')
    .where('at', '<', cut)
    .limit(ROWS_AT_ONCE)
    .execute();
  await removeIn(db, 'differences', 'id', ids(rows));
  return rows.length;
}

function ids(rows: readonly { readonly id: string }[]): readonly string[] {
  return rows.map(({ id }) => id);
}

async function removeIn(
  db: Kysely<Tables>,
  table: 'data_keys' | 'decisions' | 'differences',
  column: 'id',
  values: readonly string[],
): Promise<void> {
  if (values.length > 0) await db.deleteFrom(table).where(column, 'in', values).execute();
}
