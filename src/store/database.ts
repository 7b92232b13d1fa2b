import type { Kysely } from 'kysely';
import type { Tables } from './tables.js';

/** A database, and what each kind of it does in its own way. */
export interface StoreDatabase {
  readonly db: Kysely<Tables>;
  /** Holds off every other process that brings the tables up to date, until the transaction has ended. */
  readonly lockTables: (transaction: Kysely<Tables>) => Promise<void>;
  /** Settings of the server under which a commit that was acknowledged could be lost; none where it is durable. */
  readonly durabilityFaults: () => Promise<readonly string[]>;
  /** Takes deleted rows out of the files; false when whoever shares the database did not let it. */
  readonly wipeDeleted: () => Promise<boolean>;
}
