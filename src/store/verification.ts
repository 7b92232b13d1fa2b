import type { Kysely, Selectable } from 'kysely';
import { entryHash } from './chain-entry.js';
import type { ChainBreak, EntryKind, Head } from './chain-entry.js';
import { digestsOf, ROW_KINDS, rowDigests } from './coverage.js';
import type { RowDigest, RowKind } from './coverage.js';
import { lastOf } from './ledger.js';
import { paged, ROWS_AT_ONCE } from './pages.js';
import { partBreaks } from './record-parts.js';
import type { Verification } from './store.js';
import type { Tables } from './tables.js';

type Entry = Selectable<Tables['chain']>;

/** Breaks told one by one; more of them say nothing new. */
const MOST_BREAKS = 100;

/**
 * Follows every chain from its first entry, compares each entry with the row it covers, each row with its entry, and
 * the ends with heads written down before. Holds a page of rows at a time, and takes no lock: what is written
 * meanwhile has its entry, because both are of one transaction.
 */
export async function verifyChains(db: Kysely<Tables>, heads: readonly Head[]): Promise<Verification> {
  const breaks: ChainBreak[] = [];
  let [entries, writers, more] = [0, 0, false];
  const tell = (found: readonly ChainBreak[]): void => {
    more ||= breaks.length + found.length > MOST_BREAKS;
    breaks.push(...found.slice(0, MOST_BREAKS - breaks.length));
  };
  for await (const writer of writersOf(db)) {
    writers += 1;
    let before: Entry | undefined;
    for await (const page of entryPages(db, writer)) {
      tell(linkBreaks(page, before));
      tell(await missingRows(db, page));
      before = page.at(-1);
      entries += page.length;
    }
  }
  for (const kind of ROW_KINDS)
    for await (const rows of rowDigests(db, kind)) tell(await uncovered(db, kind, rows));
  tell(await headBreaks(db, heads));
  for await (const found of partBreaks(db)) tell(found);
  return { entries, writers, breaks, more };
}

/** Every writer in turn, found by stepping over its entries: there may be very many. */
async function* writersOf(db: Kysely<Tables>): AsyncGenerator<string, void, undefined> {
  for (let after = ''; ;) {
    const row = await db
      .selectFrom('chain')
      .select('writer')
      .where('writer', '>', after)
      .orderBy('writer')
      .limit(1)
      .executeTakeFirst();
    if (!row) return;
    yield row.writer;
    after = row.writer;
  }
}

/** Where each writer's chain ends. */
export async function readHeads(db: Kysely<Tables>): Promise<readonly Head[]> {
  const heads: Head[] = [];
  for await (const writer of writersOf(db)) heads.push(await lastOf(db, writer));
  return heads;
}

function entryPages(db: Kysely<Tables>, writer: string): AsyncGenerator<readonly Entry[], void, undefined> {
  return paged(async (after) => {
    return await db
      .selectFrom('chain')
      .selectAll()
      .where('writer', '=', writer)
      .where('seq', '>', after?.seq ?? 0)
      .orderBy('seq')
      .limit(ROWS_AT_ONCE)
      .execute();
  });
}

function linkBreaks(page: readonly Entry[], before: Entry | undefined): readonly ChainBreak[] {
  return page.flatMap((entry, index) => {
    const last = index === 0 ? before : page[index - 1];
    const [seq, hash] = last ? [last.seq, last.hash] : [0, ''];
    const { writer, of } = entry;
    const kind = entry.kind as EntryKind;
    const told = (why: string): ChainBreak => ({ writer, seq: entry.seq, kind, of, why });
    if (entry.seq !== seq + 1) return [told(`expected entry ${seq + 1} to follow, found entry ${entry.seq}`)];
    if (entry.previous !== hash) return [told('expected the hash of the entry before, found another')];
    return entryHash({ ...entry, kind }) === entry.hash
      ? []
      : [told('expected the hash of this entry, found another')];
  });
}

/** Entries of a page whose row is gone or changed, and no later entry says why. */
async function missingRows(db: Kysely<Tables>, page: readonly Entry[]): Promise<readonly ChainBreak[]> {
  const breaks: ChainBreak[] = [];
  for (const kind of ROW_KINDS) {
    const entries = page.filter((entry) => entry.kind === kind);
    if (entries.length === 0) continue;
    const rows = await digestsOf(
      db,
      kind,
      entries.map(({ of }) => of),
    );
    const digests = new Map(rows.map(({ of, digest }) => [of, digest]));
    for (const entry of entries) {
      const found = digests.get(entry.of);
      if (found === entry.digest || (await isExplained(db, kind, entry))) continue;
      const why =
        found === undefined
          ? 'expected the row, found none and no entry that says why'
          : 'expected the row as it was written, found it changed';
      breaks.push({ writer: entry.writer, seq: entry.seq, kind, of: entry.of, why });
    }
  }
  return breaks;
}

/** Whether a later entry says that the row was erased or pruned. */
async function isExplained(db: Kysely<Tables>, kind: RowKind, { of, moment }: Entry): Promise<boolean> {
  const row = await db
    .selectFrom('chain')
    .select('seq')
    .where((where) =>
      where.or([
        where.and([where('kind', '=', 'erased'), where('of', '=', of)]),
        where.and([where('kind', '=', 'pruning'), where('of', '=', kind), where('moment', '>', moment)]),
      ]),
    )
    .limit(1)
    .executeTakeFirst();
  return row !== undefined;
}

/** Rows that no entry covers as they stand. */
async function uncovered(
  db: Kysely<Tables>,
  kind: RowKind,
  rows: readonly RowDigest[],
): Promise<readonly ChainBreak[]> {
  const entries = await db
    .selectFrom('chain')
    .select(['of', 'digest'])
    .where('kind', '=', kind)
    .where(
      'of',
      'in',
      rows.map(({ of }) => of),
    )
    .execute();
  const covered = new Set(entries.map(({ of, digest }) => `${digest} ${of}`));
  return rows
    .filter(({ of, digest }) => !covered.has(`${digest} ${of}`))
    .map(({ of }) => ({ kind, of, why: 'expected an entry that covers the row as it stands, found none' }));
}

/** Ends that were cut off: an entry written down elsewhere is no longer there. */
async function headBreaks(db: Kysely<Tables>, heads: readonly Head[]): Promise<readonly ChainBreak[]> {
  const breaks: ChainBreak[] = [];
  for (const { writer, seq, hash } of heads) {
    const row = await db
      .selectFrom('chain')
      .select('hash')
      .where('writer', '=', writer)
      .where('seq', '=', seq)
      .executeTakeFirst();
    if (row?.hash === hash) continue;
    const why = row
      ? 'expected the entry of that head, found another'
      : 'expected the entry of that head, found the chain cut off before it';
    breaks.push({ writer, seq, kind: 'head', of: writer, why });
  }
  return breaks;
}
