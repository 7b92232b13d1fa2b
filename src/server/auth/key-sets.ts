import type { Logger } from 'pino';
import type { FetchedKeySet } from './fetch-key-set.js';
import { KeySetError } from './fetch-key-set.js';
import type { PublicKey } from './public-key.js';

/** The key sets that clients publish, each kept as long as its cache headers allow, within bounds. */
export interface KeySets {
  /**
   * The keys published at an address; asked for anew when the one wanted is not among them, at most once a minute.
   * Undefined when there are none to be had.
   */
  readonly keysAt: (url: string, kid: string) => Promise<readonly PublicKey[] | undefined>;
}

export interface KeySetsParts {
  readonly fetchSet: (url: string) => Promise<FetchedKeySet>;
  readonly log: Logger;
  readonly nowMs: () => number;
}

const MINUTE_MS = 60_000;
const KEPT_MS = { least: MINUTE_MS, unsaid: 10 * MINUTE_MS, most: 24 * 60 * MINUTE_MS } as const;
/** A key set whose address does not answer is used this much longer, so that a restart over there locks nobody out. */
const STALE_MS = 60 * MINUTE_MS;
/** Where nothing was ever read, trying again does not wait for a minute. */
const RETRY_MS = 5_000;

interface Entry {
  readonly keys?: readonly PublicKey[];
  readonly freshUntil: number;
  readonly triedAt: number;
}

export function newKeySets(parts: KeySetsParts): KeySets {
  const entries = new Map<string, Entry>();
  const underway = new Map<string, Promise<Entry>>();

  /** One request at a time for each address, whoever waits for it. */
  const refresh = (url: string): Promise<Entry> => {
    const running = underway.get(url);
    if (running) return running;
    const started = fetchEntry(url, entries.get(url), parts)
      .then((entry) => {
        entries.set(url, entry);
        return entry;
      })
      .finally(() => underway.delete(url));
    underway.set(url, started);
    return started;
  };

  return {
    keysAt: async (url, kid) => {
      const known = entries.get(url);
      const entry = isEnough(known, kid, parts.nowMs()) ? known : await refresh(url);
      return isUsable(entry, parts.nowMs()) ? entry.keys : undefined;
    },
  };
}

/** Whether what is known is to be used without asking again. */
function isEnough(entry: Entry | undefined, kid: string, now: number): entry is Entry {
  if (!entry) return false;
  if (!isUsable(entry, now)) return now < entry.triedAt + RETRY_MS;
  const isSettled = now < entry.freshUntil && entry.keys?.some((key) => key.kid === kid) === true;
  return isSettled || now < entry.triedAt + MINUTE_MS;
}

function isUsable({ keys, freshUntil }: Entry, now: number): boolean {
  return keys !== undefined && now < freshUntil + STALE_MS;
}

async function fetchEntry(
  url: string,
  before: Entry | undefined,
  { fetchSet, log, nowMs }: KeySetsParts,
): Promise<Entry> {
  const triedAt = nowMs();
  try {
    const { keys, maxAgeS } = await fetchSet(url);
    const keptMs = maxAgeS === undefined ? KEPT_MS.unsaid : maxAgeS * 1000;
    const freshUntil = triedAt + Math.min(Math.max(keptMs, KEPT_MS.least), KEPT_MS.most);
    return { keys, freshUntil, triedAt };
  } catch (error) {
    if (!(error instanceof KeySetError)) throw error;
    log.warn({ keySet: url, why: error.message }, 'key set could not be read');
    return { ...before, freshUntil: before?.freshUntil ?? 0, triedAt };
  }
}
