import type { ControlledTransaction, Kysely } from 'kysely';
import type { Covered } from './chain-entry.js';
import type { Ledger } from './ledger.js';
import type { Tables } from './tables.js';

/** One thing to keep, written within a transaction it shares with others; answers with what the chain is to say of it. */
export type Write = (transaction: Kysely<Tables>) => Promise<readonly Covered[]>;

/**
 * Does several writes in one transaction, with their entries in the chain. One that fails is undone alone and named
 * with its reason; throws when the transaction as a whole failed, and then none is kept.
 */
export async function commitTogether(
  db: Kysely<Tables>,
  writes: readonly Write[],
  ledger: Ledger,
): Promise<ReadonlyMap<Write, unknown>> {
  // Nearly always all succeed; only when one does not is it worth marking the place before each.
  return (await commitAll(db, writes, ledger)) ? new Map() : await commitEach(db, writes, ledger);
}

/** All writes or none; false when one of them failed. */
async function commitAll(db: Kysely<Tables>, writes: readonly Write[], ledger: Ledger): Promise<boolean> {
  const transaction = await db.startTransaction().execute();
  try {
    const covered: Covered[] = [];
    for (const write of writes) covered.push(...(await write(transaction)));
    await ledger.append(transaction, covered);
  } catch {
    ledger.settle('unknown');
    await undo(transaction);
    return false;
  }
  await commitOrUndo(transaction, ledger);
  return true;
}

async function commitEach(
  db: Kysely<Tables>,
  writes: readonly Write[],
  ledger: Ledger,
): Promise<ReadonlyMap<Write, unknown>> {
  const failures = new Map<Write, unknown>();
  const transaction = await db.startTransaction().execute();
  try {
    const covered: Covered[] = [];
    for (const write of writes) {
      const attempted = await attempt(transaction, write);
      if ('reason' in attempted) failures.set(write, attempted.reason);
      else covered.push(...attempted.covered);
    }
    await ledger.append(transaction, covered);
  } catch (error) {
    ledger.settle('unknown');
    await undo(transaction);
    throw error;
  }
  await commitOrUndo(transaction, ledger);
  return failures;
}

async function commitOrUndo(transaction: ControlledTransaction<Tables>, ledger: Ledger): Promise<void> {
  try {
    await transaction.commit().execute();
  } catch (error) {
    // A connection that breaks here leaves open whether the database committed.
    ledger.settle('unknown');
    await undo(transaction);
    throw error;
  }
  ledger.settle('committed');
}

/** What broke the transaction is the error to tell, not that the broken one could not be undone either. */
async function undo(transaction: ControlledTransaction<Tables>): Promise<void> {
  await transaction
    .rollback()
    .execute()
    .catch(() => undefined);
}

type Attempted = { readonly covered: readonly Covered[] } | { readonly reason: unknown };

async function attempt(transaction: ControlledTransaction<Tables>, write: Write): Promise<Attempted> {
  const begun = await transaction.savepoint('one').execute();
  let covered: readonly Covered[];
  try {
    covered = await write(begun);
  } catch (reason) {
    await begun
      .rollbackToSavepoint('one')
      .execute()
      // The database has given up the whole transaction, as on a full disk.
      .catch(() => Promise.reject(reason as Error));
    return { reason };
  }
  await begun.releaseSavepoint('one').execute();
  return { covered };
}
