import { createHash } from 'node:crypto';
import type { Logger } from 'pino';
import type { Store } from '../../store/store.js';
import { failureOf } from '../store-failure.js';

/** A token by what makes it one of a kind, and until when it could come again. */
export interface TokenName {
  readonly iss: string;
  readonly jti: string;
  readonly untilMs: number;
}

/** Remembers tokens until they have run out, so that each is used once. */
export interface SeenTokens {
  /** Remembers the token and tells whether this is its first use; `unknown` when the store could not be asked. */
  readonly use: (token: TokenName) => Promise<'first' | 'again' | 'unknown'>;
}

export interface SeenTokensParts {
  readonly store: Pick<Store, 'rememberToken'>;
  readonly log: Logger;
}

/** Twice as many are remembered by the process itself at most; older ones are known to the store. */
const MOST_IN_MEMORY = 50_000;

/**
 * The store knows what every instance has seen, also before a restart. The memory in front of it decides between calls
 * of the same moment, and is all there is while the store cannot be asked.
 */
export function newSeenTokens({ store, log }: SeenTokensParts): SeenTokens {
  let older = new Set<string>();
  let newer = new Set<string>();
  return {
    use: async ({ iss, jti, untilMs }) => {
      const name = createHash('sha256')
        .update(JSON.stringify([iss, jti]))
        .digest('base64');
      if (newer.has(name) || older.has(name)) return 'again';
      newer.add(name);
      if (newer.size >= MOST_IN_MEMORY) [older, newer] = [newer, new Set()];
      try {
        return (await store.rememberToken(iss, jti, untilMs)) ? 'first' : 'again';
      } catch (error) {
        log.error(failureOf(error), 'a token could not be remembered');
        return 'unknown';
      }
    },
  };
}
