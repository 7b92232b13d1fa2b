import { createSecretKey } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { newCommentSeal } from '../../src/store/comment-seal.js';
import { TEST_KEY, uuid } from './records.js';

const seal = newCommentSeal(TEST_KEY);
const TEXT = 'Zqxmarker – 45° it is. 👍';

describe('a sealed comment', () => {
  it('opens to the text it was made of, whatever that is', () => {
    for (const text of [TEXT, '', ' ', '\0', 'ß'.repeat(10_000)])
      expect(seal.open(seal.seal(text, uuid(1)), uuid(1))).toBe(text);
  });

  it('holds nothing of the text, and is never the same twice', () => {
    const sealed = seal.seal(TEXT, uuid(1));
    expect(sealed).toMatch(/^v1\.[\w-]+$/);
    expect(Buffer.from(sealed.slice(3), 'base64url').toString('latin1')).not.toContain('Zqxmarker');
    // NIST SP 800-38D section 8: a nonce is never used twice.
    const many = Array.from({ length: 1000 }, () => seal.seal(TEXT, uuid(1)));
    expect(new Set(many).size).toBe(many.length);
  });

  it('does not open under another key, for another card, or when a bit of it was changed', () => {
    const sealed = seal.seal(TEXT, uuid(1));
    const other = newCommentSeal(createSecretKey(Buffer.alloc(32, 8)));
    expect(other.open(sealed, uuid(1))).toBeUndefined();
    expect(seal.open(sealed, uuid(2))).toBeUndefined();
    const bytes = Buffer.from(sealed.slice(3), 'base64url');
    for (let index = 0; index < bytes.length; index += 1) {
      const changed = Buffer.from(bytes);
      changed[index] = (changed[index] ?? 0) ^ 1;
      // NIST SP 800-38D section 7.2: authenticated decryption fails.
      expect(seal.open(`v1.${changed.toString('base64url')}`, uuid(1)), `byte ${index}`).toBeUndefined();
    }
    for (const broken of ['', 'v1.', 'v2.AAAA', sealed.slice(0, 20), sealed.slice(3)])
      expect(seal.open(broken, uuid(1))).toBeUndefined();
  });

  it('has a digest that is the same for the same text and tells nothing without the key', () => {
    const other = newCommentSeal(createSecretKey(Buffer.alloc(32, 8)));
    expect(seal.digest(TEXT)).toBe(newCommentSeal(TEST_KEY).digest(TEXT));
    expect(seal.digest(TEXT)).not.toBe(seal.digest(`${TEXT} `));
    expect(seal.digest(TEXT)).not.toBe(other.digest(TEXT));
  });
});
