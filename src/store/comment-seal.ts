import { createHmac } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import { derivedKey, unseal } from './sealing.js';

/** What the store's one key does for comments beside sealing them under their patient's key. */
export interface CommentSeal {
  /**
   * A comment as the first version sealed it, under one key for all and bound to its card; undefined when it was sealed
   * under another key or for another card, or was altered.
   */
  readonly openFirst: (sealed: string, card: string) => string | undefined;
  /** Tells whether two texts are the same, without telling what they are: short comments could else be guessed. */
  readonly digest: (text: string) => string;
}

/** The form of the first version. */
const FIRST_FORM = 'v1.';

export function newCommentSeal(key: KeyObject): CommentSeal {
  const sealingKey = derivedKey(key, 'kotyle comment seal');
  const digestKey = derivedKey(key, 'kotyle comment digest');
  return {
    openFirst: (sealed, card) => {
      if (!sealed.startsWith(FIRST_FORM)) return undefined;
      const bytes = Buffer.from(sealed.slice(FIRST_FORM.length), 'base64url');
      return unseal(sealingKey, bytes, card)?.toString('utf8');
    },
    digest: (text) => createHmac('sha256', digestKey).update(text, 'utf8').digest('hex'),
  };
}
