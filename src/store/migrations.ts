import type { Kysely } from 'kysely';
import { addChainAndContents } from './chained-tables.js';
import type { StoreDatabase } from './database.js';
import { createDecisionsAndFeedback } from './first-tables.js';
import type { Tables } from './tables.js';

/** One step from an older form of the tables to the next. A step that was released is never changed again. */
export interface Migration {
  readonly number: number;
  readonly name: string;
  /**
   * The oldest version of the tables whose programs still work rightly after this step: its own number unless it only
   * adds what older programs may pass over.
   */
  readonly floor: number;
  readonly up: (db: Kysely<Tables>) => Promise<void>;
}

export const MIGRATIONS: readonly Migration[] = [
  { number: 1, name: 'decisions and feedback', floor: 1, up: createDecisionsAndFeedback },
  // What an older program writes would have no place in a chain.
  { number: 2, name: 'chains and sealed contents', floor: 2, up: addChainAndContents },
];

/**
 * Brings the tables up to date, forward only, in one transaction; processes that start together wait for each other.
 * Tables of a newer version are left as they are where its steps let older programs go on, so that a service can be
 * rolled back; else throws, because what this version writes would be wrong in them.
 */
export async function migrate(
  { db, lockTables }: StoreDatabase,
  migrations: readonly Migration[] = MIGRATIONS,
): Promise<void> {
  await db.transaction().execute(async (transaction) => {
    await lockTables(transaction);
    await createBookkeeping(transaction);
    const found = await stepsOf(transaction);
    const newest = migrations.at(-1)?.number ?? 0;
    const barred = found.find(({ number, floor }) => number > newest && floor > newest);
    if (barred) {
      throw new Error(
        `expected tables that version ${newest} can use, found version ${barred.number}, which needs version ${barred.floor} or newer: a newer version of this service wrote them`,
      );
    }
    const known = new Set(found.map(({ number }) => number));
    for (const { number, name, floor, up } of migrations.filter((each) => !known.has(each.number))) {
      await up(transaction);
      await transaction.insertInto('migrations').values({ number, name }).execute();
      await transaction.insertInto('migration_floors').values({ number, floor }).execute();
    }
  });
}

async function createBookkeeping(db: Kysely<Tables>): Promise<void> {
  await db.schema
    .createTable('migrations')
    .ifNotExists()
    .addColumn('number', 'integer', (column) => column.primaryKey())
    .addColumn('name', 'text', (column) => column.notNull())
    .execute();
  await db.schema
    .createTable('migration_floors')
    .ifNotExists()
    .addColumn('number', 'integer', (column) => column.primaryKey())
    .addColumn('floor', 'integer', (column) => column.notNull())
    .execute();
}

/** The steps the tables have been through; one that names no floor is for its own version only. */
async function stepsOf(
  db: Kysely<Tables>,
): Promise<readonly { readonly number: number; readonly floor: number }[]> {
  const rows = await db
    .selectFrom('migrations')
    .leftJoin('migration_floors', 'migration_floors.number', 'migrations.number')
    .select(['migrations.number', 'migration_floors.floor'])
    .orderBy('migrations.number')
    .execute();
  return rows.map(({ number, floor }) => ({ number, floor: floor ?? number }));
}
