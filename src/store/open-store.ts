import type { KeyObject } from 'node:crypto';
import { openSqlite } from './sqlite.js';
import { newStore } from './sql-store.js';
import type { Store } from './store.js';

export interface StoreSettings {
  /** A SQLite file, or `:memory:` for a store that ends with the process. */
  readonly path: string;
  /** Seals comments; under another key they cannot be read again. */
  readonly contentKey: KeyObject;
  /** How long a write waits for another process. */
  readonly busyTimeoutMs?: number;
}

/** Opens a store, created where there is none. Throws when it cannot be used, or was written by a newer version. */
export async function openStore({ path, contentKey, busyTimeoutMs }: StoreSettings): Promise<Store> {
  const db = openSqlite(path, busyTimeoutMs);
  try {
    return await newStore(db, contentKey);
  } catch (cause) {
    await db.destroy();
    const why = cause instanceof Error ? cause.message : 'unknown';
    throw new Error(`the store at ${path} cannot be used: ${why}`, { cause });
  }
}
