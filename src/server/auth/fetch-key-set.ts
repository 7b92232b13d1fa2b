import { request } from 'node:https';
import type { IncomingMessage } from 'node:http';
import { PrivateAddressError, isPrivateLiteral, publicLookup } from '../security/guarded-lookup.js';
import { usableKeys } from './public-key.js';
import type { PublicKey } from './public-key.js';

/** A key set as it was published, and how long it may be kept. */
export interface FetchedKeySet {
  readonly keys: readonly PublicKey[];
  /** Seconds; undefined where the answer says nothing of it. */
  readonly maxAgeS?: number;
}

/** Why a key set could not be had; told to the log. */
export class KeySetError extends Error {}

const TIME_MS = 2_000;
const MOST_BYTES = 64 * 1024;
const MOST_KEYS = 100;

/**
 * Reads a published key set: from this address alone, without following a redirect, within limits of time and size, and
 * from no private network unless that is allowed. Throws KeySetError and nothing else.
 */
export async function fetchKeySet(url: string, privateNetwork: boolean): Promise<FetchedKeySet> {
  if (!privateNetwork && isPrivateLiteral(new URL(url).hostname)) throw new KeySetError('private address');
  const signal = AbortSignal.timeout(TIME_MS);
  try {
    const response = await get(url, privateNetwork, signal);
    const text = await bodyOf(response);
    const maxAgeS = maxAgeOf(response.headers['cache-control']);
    return { keys: keysOf(text), ...(maxAgeS !== undefined && { maxAgeS }) };
  } catch (error) {
    if (error instanceof KeySetError) throw error;
    if (signal.aborted) throw new KeySetError('no answer in time', { cause: error });
    const why = error instanceof PrivateAddressError ? 'private address' : 'the connection failed';
    throw new KeySetError(why, { cause: error });
  }
}

function get(url: string, privateNetwork: boolean, signal: AbortSignal): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    const asked = request(url, {
      headers: { accept: 'application/jwk-set+json, application/json' },
      // Without an agent of its own a connection to another address could be taken from the pool.
      agent: false,
      signal,
      ...(!privateNetwork && { lookup: publicLookup }),
    });
    asked.on('response', resolve).on('error', reject).end();
  });
}

async function bodyOf(response: IncomingMessage): Promise<string> {
  if (response.statusCode !== 200) {
    response.destroy();
    throw new KeySetError(`status ${String(response.statusCode)}`);
  }
  const chunks: Buffer[] = [];
  let size = 0;
  for await (const chunk of response as AsyncIterable<Buffer>) {
    size += chunk.length;
    if (size > MOST_BYTES) throw new KeySetError('too large');
    chunks.push(chunk);
  }
  return Buffer.concat(chunks, size).toString('utf8');
}

function keysOf(text: string): readonly PublicKey[] {
  const content = parsed(text);
  const keys =
    typeof content === 'object' && content !== null && 'keys' in content ? content.keys : undefined;
  if (!Array.isArray(keys)) throw new KeySetError('not a key set');
  if (keys.length > MOST_KEYS) throw new KeySetError('too many keys');
  return usableKeys(keys);
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    throw new KeySetError('not JSON');
  }
}

/** RFC 9111, section 5.2.2: what must not be stored or must be asked for again is kept no longer than need be. */
function maxAgeOf(cacheControl: string | undefined): number | undefined {
  if (cacheControl === undefined) return undefined;
  const directives = cacheControl.toLowerCase().split(',');
  const named = directives.map((directive) => directive.trim());
  if (named.includes('no-store') || named.includes('no-cache')) return 0;
  const age = named.flatMap((directive) => /^max-age="?(\d{1,9})"?$/.exec(directive)?.[1] ?? [])[0];
  return age === undefined ? undefined : Number(age);
}
