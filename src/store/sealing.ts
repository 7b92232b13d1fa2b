import { createCipheriv, createDecipheriv, hkdfSync, randomBytes } from 'node:crypto';
import type { KeyObject } from 'node:crypto';

const NONCE_BYTES = 12;
const TAG_BYTES = 16;

/**
 * AES-256-GCM with a random nonce before the text and the tag behind it. What it is bound to must be given again to
 * open it.
 *
 * Source: NIST SP 800-38D, section 8.2.2 (nonces of 96 random bits, at most 2^32 texts under one key).
 */
export function seal(key: Buffer, text: Buffer, boundTo: string): Buffer {
  const nonce = randomBytes(NONCE_BYTES);
  const cipher = createCipheriv('aes-256-gcm', key, nonce).setAAD(Buffer.from(boundTo, 'utf8'));
  return Buffer.concat([nonce, cipher.update(text), cipher.final(), cipher.getAuthTag()]);
}

/** The text again; undefined when it was sealed under another key or bound to something else, or was altered. */
export function unseal(key: Buffer, sealed: Buffer, boundTo: string): Buffer | undefined {
  if (sealed.length < NONCE_BYTES + TAG_BYTES) return undefined;
  const decipher = createDecipheriv('aes-256-gcm', key, sealed.subarray(0, NONCE_BYTES))
    .setAAD(Buffer.from(boundTo, 'utf8'))
    .setAuthTag(sealed.subarray(-TAG_BYTES));
  try {
    return Buffer.concat([decipher.update(sealed.subarray(NONCE_BYTES, -TAG_BYTES)), decipher.final()]);
  } catch {
    return undefined;
  }
}

/** A key for one purpose only (RFC 5869). */
export function derivedKey(key: KeyObject, purpose: string): Buffer {
  return Buffer.from(hkdfSync('sha256', key, Buffer.alloc(0), purpose, 32));
}
