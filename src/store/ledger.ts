import type { Kysely } from 'kysely';
import { entryAfter } from './chain-entry.js';
import type { ChainEntry, Covered, Head } from './chain-entry.js';
import type { Tables } from './tables.js';

/** Writes one writer's chain. One transaction at a time: whoever appends settles before the next. */
export interface Ledger {
  /** Adds entries within a transaction. */
  readonly append: (transaction: Kysely<Tables>, covered: readonly Covered[]) => Promise<void>;
  /** Tells what became of that transaction. When nobody knows, the database is asked at the next one. */
  readonly settle: (became: 'committed' | 'unknown') => void;
}

/** Entries written by one statement; databases limit the values a statement may carry. */
const ENTRIES_AT_ONCE = 500;

export function newLedger(writer: string): Ledger {
  let head: Head | undefined;
  let reached: Head | undefined;
  return {
    append: async (transaction, covered) => {
      if (covered.length === 0) return;
      const from = head ?? (await lastOf(transaction, writer));
      const entries = entriesAfter(from, covered);
      for (let start = 0; start < entries.length; start += ENTRIES_AT_ONCE) {
        await transaction
          .insertInto('chain')
          .values(entries.slice(start, start + ENTRIES_AT_ONCE))
          .execute();
      }
      reached = entries.at(-1);
    },
    settle: (became) => {
      head = became === 'committed' ? (reached ?? head) : undefined;
      reached = undefined;
    },
  };
}

function entriesAfter(head: Head, covered: readonly Covered[]): readonly ChainEntry[] {
  const entries: ChainEntry[] = [];
  for (const each of covered) entries.push(entryAfter(entries.at(-1) ?? head, each));
  return entries;
}

/** Where a writer's chain ends; its beginning when it has no entries. */
export async function lastOf(db: Kysely<Tables>, writer: string): Promise<Head> {
  const last = await db
    .selectFrom('chain')
    .select(['seq', 'hash'])
    .where('writer', '=', writer)
    .orderBy('seq', 'desc')
    .limit(1)
    .executeTakeFirst();
  return { writer, seq: last?.seq ?? 0, hash: last?.hash ?? '' };
}
