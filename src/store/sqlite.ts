import Database from 'better-sqlite3';
import { CompiledQuery, Kysely, sql, SqliteDialect, SqliteDriver } from 'kysely';
import type { DatabaseConnection, SqliteDatabase, SqliteStatement } from 'kysely';
import { closeSync, openSync } from 'node:fs';
import type { StoreDatabase } from './database.js';
import type { Tables } from './tables.js';

/** Everything that only SQLite knows stands in this file. */

const IN_MEMORY = ':memory:';

/** How long a write waits for another process to finish its own, before it fails. Waiting holds up the whole service. */
const BUSY_TIMEOUT_MS = 2000;

/**
 * Opens a SQLite database, created where there is none. A commit survives a crash of the process and of the machine:
 * a write-ahead log, waited for until it is on the disk. Throws, naming the file, when that cannot be had.
 */
export function openSqlite(path: string, busyTimeoutMs: number = BUSY_TIMEOUT_MS): StoreDatabase {
  let database: Database.Database | undefined;
  try {
    if (path !== IN_MEMORY) createReadableByOwnerOnly(path);
    database = new Database(path, { timeout: busyTimeoutMs });
    setPragmas(database, path, busyTimeoutMs);
  } catch (cause) {
    database?.close();
    const why = cause instanceof Error ? cause.message : 'unknown';
    throw new Error(`expected a SQLite database that can be written at ${path}: ${why}`, { cause });
  }
  const db = new Kysely<Tables>({ dialect: new ImmediateDialect(database) });
  return {
    db,
    // Every transaction of ours takes the write lock at its start.
    lockTables: () => Promise.resolve(),
    durabilityFaults: () => Promise.resolve([]),
    wipeDeleted: () => emptyLog(db),
  };
}

/** Deleted rows are overwritten with zeros; what the log still holds of them goes when it is emptied. */
async function emptyLog(db: Kysely<Tables>): Promise<boolean> {
  const { rows } = await sql<{ busy: number }>`pragma wal_checkpoint(truncate)`.execute(db);
  return rows[0]?.busy === 0;
}

/**
 * Health data: the log and index files beside the database take over its permissions. A file that is there is not
 * opened: closing it again would let go of the locks this process holds on it (sqlite.org/howtocorrupt.html, 2.2).
 */
function createReadableByOwnerOnly(path: string): void {
  try {
    closeSync(openSync(path, 'ax', 0o600));
  } catch (error) {
    if (!hasCode(error, 'EEXIST')) throw error;
  }
}

function setPragmas(database: Database.Database, path: string, busyTimeoutMs: number): void {
  const mode = switchToLog(database, busyTimeoutMs);
  if (mode !== 'wal' && path !== IN_MEMORY)
    throw new Error(`expected a write-ahead log, found journal mode ${String(mode)}`);
  // In this mode the default loses the last commits when the power fails.
  database.pragma('synchronous = FULL');
  database.pragma('foreign_keys = ON');
  database.pragma('secure_delete = ON');
}

/** How long to wait before another try at what cannot be waited for. */
const RETRY_MS = 5;

/**
 * Two processes that switch a new file at the same moment both hold it for reading and both want it for themselves.
 * SQLite then refuses one at once, however long it was told to wait, because waiting could last for ever
 * (sqlite.org/c3ref/busy_handler.html). Letting go and trying again is what it leaves to us.
 */
function switchToLog(database: Database.Database, busyTimeoutMs: number): unknown {
  const until = performance.now() + busyTimeoutMs;
  for (;;) {
    try {
      return database.pragma('journal_mode = WAL', { simple: true });
    } catch (error) {
      if (!hasCode(error, 'SQLITE_BUSY') || performance.now() >= until) throw error;
      sleep(RETRY_MS);
    }
  }
}

/** Holds up the process, which has nothing else to do before its store is open. */
function sleep(ms: number): void {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, ms);
}

function hasCode(error: unknown, code: string): boolean {
  return error instanceof Error && 'code' in error && error.code === code;
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

/** Statements differ in few ways (how many rows at once), so these are many. */
const MOST_STATEMENTS = 200;

/** Preparing a statement costs more than running most of ours: each is prepared once. */
function withPreparedStatements(database: Database.Database): SqliteDatabase {
  const prepared = new Map<string, SqliteStatement>();
  return {
    close: () => {
      database.close();
    },
    prepare: (text) => {
      const statement = prepared.get(text) ?? database.prepare(text);
      if (prepared.size < MOST_STATEMENTS) prepared.set(text, statement);
      return statement;
    },
  };
}

class ImmediateDriver extends SqliteDriver {
  readonly #database: Database.Database;

  constructor(database: Database.Database) {
    super({ database: withPreparedStatements(database) });
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
