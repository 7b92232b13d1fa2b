import { randomUUID } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import type { StoreDatabase } from './database.js';
import { isPostgresUrl, openPostgres, postgresName } from './postgres.js';
import { openSqlite } from './sqlite.js';
import { newStore } from './sql-store.js';
import type { Store } from './store.js';

export interface StoreSettings {
  /** A SQLite file, `:memory:` for a store that ends with the process, or the URL of a PostgreSQL database. */
  readonly path: string;
  /** Wraps the keys contents and comments are sealed under; under another they cannot be read again. */
  readonly contentKey: KeyObject;
  /** Names this process's chain; random where left out, and never one that another process uses. */
  readonly writer?: string;
  /** How long contents and comments are kept; 0 keeps none. */
  readonly keepContentHours?: number;
  /** How long records are kept; 0, the default, keeps them for good. */
  readonly keepRecordDays?: number;
  /** How long a write waits for another process. */
  readonly busyTimeoutMs?: number;
  /** Told of a database that may lose commits; where left out such a one is refused. */
  readonly warn?: (faults: readonly string[]) => void;
}

const KEEP_CONTENT_HOURS = 12;

/**
 * Opens a store, created where there is none. Throws when it cannot be used, was written by a newer version that this
 * one cannot work beside, or does not keep what it says is kept.
 */
export async function openStore(settings: StoreSettings): Promise<Store> {
  const { path, contentKey, busyTimeoutMs } = settings;
  const { writer = randomUUID(), keepContentHours = KEEP_CONTENT_HOURS, keepRecordDays = 0 } = settings;
  const isServer = isPostgresUrl(path);
  const database = isServer ? openPostgres(path, busyTimeoutMs) : openSqlite(path, busyTimeoutMs);
  try {
    await expectDurable(database, settings.warn);
    return await newStore(database, { contentKey, writer, keepContentHours, keepRecordDays });
  } catch (cause) {
    await database.db.destroy();
    const why = cause instanceof Error ? cause.message : 'unknown';
    const name = isServer ? postgresName(path) : path;
    throw new Error(`the store at ${name} cannot be used: ${why}`, { cause });
  }
}

async function expectDurable(database: StoreDatabase, warn: StoreSettings['warn']): Promise<void> {
  const faults = await database.durabilityFaults();
  if (faults.length === 0) return;
  if (!warn) throw new Error(`expected a database that keeps what it commits: ${faults.join('; ')}`);
  warn(faults);
}
