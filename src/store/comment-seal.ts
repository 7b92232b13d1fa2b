import { createCipheriv, createDecipheriv, createHmac, hkdfSync, randomBytes } from 'node:crypto';
import type { KeyObject } from 'node:crypto';

/** Keeps comments unreadable in the database. */
export interface CommentSeal {
  /** The text sealed for one card: unreadable without the key, and unreadable beside another card. */
  readonly seal: (text: string, card: string) => string;
  /** The text again; undefined when it was sealed under another key or for another card, or was altered. */
  readonly open: (sealed: string, card: string) => string | undefined;
  /** Tells whether two texts are the same, without telling what they are: short comments could else be guessed. */
  readonly digest: (text: string) => string;
}

const NONCE_BYTES = 12;
const TAG_BYTES = 16;
/** Names the form below, so that another can follow. */
const FORM = 'v1.';

/**
 * AES-256-GCM with a random nonce, the card as associated data, under keys derived by HKDF for these two purposes only.
 *
 * Source: NIST SP 800-38D, section 8.2.2 (nonces of 96 random bits, at most 2^32 texts under one key); RFC 5869.
 */
export function newCommentSeal(key: KeyObject): CommentSeal {
  const sealingKey = derive(key, 'kotyle comment seal');
  const digestKey = derive(key, 'kotyle comment digest');
  return {
    seal: (text, card) => {
      const nonce = randomBytes(NONCE_BYTES);
      const cipher = createCipheriv('aes-256-gcm', sealingKey, nonce).setAAD(Buffer.from(card, 'utf8'));
      const sealed = Buffer.concat([nonce, cipher.update(text, 'utf8'), cipher.final(), cipher.getAuthTag()]);
      return FORM + sealed.toString('base64url');
    },
    open: (sealed, card) => open(sealed, card, sealingKey),
    digest: (text) => createHmac('sha256', digestKey).update(text, 'utf8').digest('hex'),
  };
}

function derive(key: KeyObject, purpose: string): Buffer {
  return Buffer.from(hkdfSync('sha256', key, Buffer.alloc(0), purpose, 32));
}

function open(sealed: string, card: string, key: Buffer): string | undefined {
  const bytes = Buffer.from(sealed.slice(FORM.length), 'base64url');
  if (!sealed.startsWith(FORM) || bytes.length < NONCE_BYTES + TAG_BYTES) return undefined;
  const decipher = createDecipheriv('aes-256-gcm', key, bytes.subarray(0, NONCE_BYTES))
    .setAAD(Buffer.from(card, 'utf8'))
    .setAuthTag(bytes.subarray(-TAG_BYTES));
  try {
    const text = decipher.update(bytes.subarray(NONCE_BYTES, -TAG_BYTES));
    return Buffer.concat([text, decipher.final()]).toString('utf8');
  } catch {
    return undefined;
  }
}
