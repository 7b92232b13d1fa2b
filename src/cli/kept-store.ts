import { existsSync } from 'node:fs';
import { generateKeySync } from 'node:crypto';
import { readConfig } from '../server/config.js';
import type { Config } from '../server/config.js';
import { openStore } from '../store/open-store.js';
import type { StoreSettings } from '../store/open-store.js';
import { isPostgresUrl } from '../store/postgres.js';
import type { Store } from '../store/store.js';
import { CallError } from './io.js';

/** The settings of the environment, for verbs that work on what the service kept. */
export function settings(): Config {
  return asCall(() => readConfig(process.env));
}

/**
 * Runs work on the store the settings name, and lets go of it. Without a content key what is sealed stays unreadable.
 * CallError when there is no such store: a verb that looks at one makes none.
 */
export async function withStore<Value>(
  config: Config,
  io: { readonly err: (text: string) => void },
  work: (store: Store) => Promise<Value>,
): Promise<Value> {
  const { store: path, keepContentHours, keepRecordDays, contentKey } = config;
  const warn = (faults: readonly string[]): void => io.err(`kotyle: ${faults.join('; ')}\n`);
  const store = await open(path, {
    keepContentHours,
    keepRecordDays,
    warn,
    ...(contentKey && { contentKey }),
  });
  try {
    return await work(store);
  } finally {
    await store.close();
  }
}

/** The store at a path or URL, for verbs that only count what is in it; sealed contents stay sealed. */
export async function keptStore(path: string): Promise<Store> {
  return await open(path, { warn: () => undefined });
}

async function open(path: string, change: Partial<StoreSettings>): Promise<Store> {
  if (!isPostgresUrl(path) && !existsSync(path))
    throw new CallError(
      `expected the store of a service, found nothing at ${path}`,
      'name it as KOTYLE_STORE does for the service',
    );
  const contentKey = generateKeySync('hmac', { length: 256 });
  return await asyncCall(() => openStore({ path, contentKey, ...change }));
}

function asCall<Value>(work: () => Value): Value {
  try {
    return work();
  } catch (error) {
    throw callError(error);
  }
}

async function asyncCall<Value>(work: () => Promise<Value>): Promise<Value> {
  try {
    return await work();
  } catch (error) {
    throw callError(error);
  }
}

function callError(error: unknown): unknown {
  return error instanceof Error && !(error instanceof CallError)
    ? new CallError(error.message, 'the settings stand in DEVELOPERS.md', { cause: error })
    : error;
}
