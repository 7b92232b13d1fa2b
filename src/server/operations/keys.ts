import { generateKeySync } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import type { Logger } from 'pino';
import type { Config } from '../config.js';

/** The two secrets of the store. */
export interface Keys {
  readonly pseudonym: KeyObject;
  readonly content: KeyObject;
}

/** Keys that are not set are made for this run; what is kept under them is then a riddle to the next. */
export function keysOf({ pseudonymKey, contentKey }: Config, log: Logger): Keys {
  const missing = [
    ...(pseudonymKey ? [] : ['KOTYLE_PSEUDONYM_KEY']),
    ...(contentKey ? [] : ['KOTYLE_CONTENT_KEY']),
  ];
  if (missing.length > 0) {
    log.info(
      { missing },
      'keys made for this run only; acknowledgements, pseudonyms and comments kept now mean nothing to the next run',
    );
  }
  return { pseudonym: pseudonymKey ?? newKey(), content: contentKey ?? newKey() };
}

function newKey(): KeyObject {
  return generateKeySync('hmac', { length: 256 });
}
