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
  const failures = new Map<Write, unknown>();
  const transaction = await db.startTransaction().execute();
  try {
    for (const write of writes) {
      const failure = await attempt(transaction, write);
      if (failure) failures.set(write, failure.reason);
    }
    await transaction.commit().execute();
    return failures;
  } catch (error) {
    // What broke the transaction is the error to tell, not that the broken one could not be undone either.
    await transaction
      .rollback()
      .execute()
      .catch(() => undefined);
    throw error;
  }
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
