import Database from 'better-sqlite3';
import { CompiledQuery, Kysely, SqliteDialect, SqliteDriver } from 'kysely';
import type { DatabaseConnection } from 'kysely';
import { closeSync, openSync } from 'node:fs';
import type { Tables } from './tables.js';

/** Everything that only SQLite knows stands in this file. */

const IN_MEMORY = ':memory:';

/** How long a write waits for another process to finish its own, before it fails. Waiting holds up the whole service. */
const BUSY_TIMEOUT_MS = 2000;

/**
 * Opens a SQLite database, created where there is none. A commit survives a crash of the process and of the machine:
 * a write-ahead log, waited for until it is on the disk. Throws, naming the file, when that cannot be had.
 */
export function openSqlite(path: string, busyTimeoutMs: number = BUSY_TIMEOUT_MS): Kysely<Tables> {
  let database: Database.Database | undefined;
  try {
    if (path !== IN_MEMORY) createReadableByOwnerOnly(path);
    database = new Database(path, { timeout: busyTimeoutMs });
    setPragmas(database, path);
  } catch (cause) {
    database?.close();
    const why = cause instanceof Error ? cause.message : 'unknown';
    throw new Error(`expected a SQLite database that can be written at ${path}: ${why}`, { cause });
  }
  return new Kysely<Tables>({ dialect: new ImmediateDialect(database) });
}

/** Health data: the log and index files beside the database take over its permissions. */
function createReadableByOwnerOnly(path: string): void {
  closeSync(openSync(path, 'a', 0o600));
}

function setPragmas(database: Database.Database, path: string): void {
  const mode: unknown = database.pragma('journal_mode = WAL', { simple: true });
  if (mode !== 'wal' && path !== IN_MEMORY)
    throw new Error(`expected a write-ahead log, found journal mode ${String(mode)}`);
  // In this mode the default loses the last commits when the power fails.
  database.pragma('synchronous = FULL');
  database.pragma('foreign_keys = ON');
}

class ImmediateDialect extends SqliteDialect {
  readonly #database: Database.Database;

  constructor(database: Database.Database) {
    super({ database });
    this.#database = database;
  }

  override createDriver(): SqliteDriver {
    return new ImmediateDriver(this.#database);
  }
}

class ImmediateDriver extends SqliteDriver {
  readonly #database: Database.Database;

  constructor(database: Database.Database) {
    super({ database });
    this.#database = database;
  }

  /** A transaction that asks for the write lock only on the way is refused without any wait when another has it. */
  override async beginTransaction(connection: DatabaseConnection): Promise<void> {
    await connection.executeQuery(CompiledQuery.raw('begin immediate'));
  }

  /** After a full disk and the like SQLite has rolled back by itself. */
  override async rollbackTransaction(connection: DatabaseConnection): Promise<void> {
    if (this.#database.inTransaction) await super.rollbackTransaction(connection);
  }
}
