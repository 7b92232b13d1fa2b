import type { ControlledTransaction, Kysely } from 'kysely';
import type { Tables } from './tables.js';

/** One thing to keep, written within a transaction it shares with others. */
export type Write = (transaction: Kysely<Tables>) => Promise<void>;

/**
 * Does several writes in one transaction. One that fails is undone alone and named with its reason; throws when the
 * transaction as a whole failed, and then none is kept.
 */
export async function commitTogether(
  db: Kysely<Tables>,
  writes: readonly Write[],
): Promise<ReadonlyMap<Write, unknown>> {
  // Nearly always all succeed; only when one does not is it worth marking the place before each.
  return (await commitAll(db, writes)) ? new Map() : await commitEach(db, writes);
}

/** All writes or none; false when one of them failed. */
async function commitAll(db: Kysely<Tables>, writes: readonly Write[]): Promise<boolean> {
  const transaction = await db.startTransaction().execute();
  try {
    for (const write of writes) await write(transaction);
  } catch {
    await undo(transaction);
    return false;
  }
  await commitOrUndo(transaction);
  return true;
}

async function commitEach(
  db: Kysely<Tables>,
  writes: readonly Write[],
): Promise<ReadonlyMap<Write, unknown>> {
  const failures = new Map<Write, unknown>();
  const transaction = await db.startTransaction().execute();
  try {
    for (const write of writes) {
      const failure = await attempt(transaction, write);
      if (failure) failures.set(write, failure.reason);
    }
  } catch (error) {
    await undo(transaction);
    throw error;
  }
  await commitOrUndo(transaction);
  return failures;
}

async function commitOrUndo(transaction: ControlledTransaction<Tables>): Promise<void> {
  try {
    await transaction.commit().execute();
  } catch (error) {
    await undo(transaction);
    throw error;
  }
}

/** What broke the transaction is the error to tell, not that the broken one could not be undone either. */
async function undo(transaction: ControlledTransaction<Tables>): Promise<void> {
  await transaction
    .rollback()
    .execute()
    .catch(() => undefined);
}

interface Failure {
  readonly reason: unknown;
}

async function attempt(
  transaction: ControlledTransaction<Tables>,
  write: Write,
): Promise<Failure | undefined> {
  const begun = await transaction.savepoint('one').execute();
  try {
    await write(begun);
  } catch (reason) {
    await begun
      .rollbackToSavepoint('one')
      .execute()
      // The database has given up the whole transaction, as on a full disk.
      .catch(() => Promise.reject(reason as Error));
    return { reason };
  }
  await begun.releaseSavepoint('one').execute();
  return undefined;
}
