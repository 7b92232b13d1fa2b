import { createSecretKey } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { newCommentSeal } from '../../src/store/comment-seal.js';
import { derivedKey, seal, unseal } from '../../src/store/sealing.js';
import { firstForm, TEST_KEY, uuid } from './records.js';

const KEY = Buffer.alloc(32, 5);
const TEXT = 'Zqxmarker – 45° it is. 👍';

describe('what is sealed', () => {
  it('opens to what it was made of, whatever that is', () => {
    for (const text of [TEXT, '', ' ', '\0', 'ß'.repeat(10_000)]) {
      const sealed = seal(KEY, Buffer.from(text), uuid(1));
      expect(unseal(KEY, sealed, uuid(1))?.toString()).toBe(text);
    }
  });

  it('is AES-256-GCM, the nonce before it and the tag behind', () => {
    // Truth: published, McGrew and Viega, "The Galois/Counter Mode of Operation", appendix B, test case 14.
    const sealed = Buffer.concat([
      Buffer.alloc(12),
      Buffer.from('cea7403d4d606b6e074ec5d3baf39d18', 'hex'),
      Buffer.from('d0d1c8a799996bf0265b98b5d48ab919', 'hex'),
    ]);
    expect(unseal(Buffer.alloc(32), sealed, '')).toEqual(Buffer.alloc(16));
  });

  it('holds nothing of the text, and is never the same twice', () => {
    expect(seal(KEY, Buffer.from(TEXT), uuid(1)).toString('latin1')).not.toContain('Zqxmarker');
    // NIST SP 800-38D section 8: a nonce is never used twice.
    const many = Array.from({ length: 1000 }, () =>
      seal(KEY, Buffer.from(TEXT), uuid(1)).toString('hex', 0, 12),
    );
    expect(new Set(many).size).toBe(many.length);
  });

  it('does not open under another key, bound to something else, or when a bit of it was changed', () => {
    const sealed = seal(KEY, Buffer.from(TEXT), uuid(1));
    expect(unseal(Buffer.alloc(32, 6), sealed, uuid(1))).toBeUndefined();
    expect(unseal(KEY, sealed, uuid(2))).toBeUndefined();
    for (let index = 0; index < sealed.length; index += 1) {
      const changed = Buffer.from(sealed);
      changed[index] = (changed[index] ?? 0) ^ 1;
      // NIST SP 800-38D section 7.2: authenticated decryption fails.
      expect(unseal(KEY, changed, uuid(1)), `byte ${index}`).toBeUndefined();
    }
    for (const length of [0, 12, 27, sealed.length - 1])
      expect(unseal(KEY, sealed.subarray(0, length), uuid(1)), `${length} bytes`).toBeUndefined();
  });
});

describe('a comment of the first version', () => {
  it('can still be read, beside its own card and under its own key only', () => {
    const sealed = firstForm(TEXT, uuid(1));
    expect(newCommentSeal(TEST_KEY).openFirst(sealed, uuid(1))).toBe(TEXT);
    expect(newCommentSeal(TEST_KEY).openFirst(sealed, uuid(2))).toBeUndefined();
    const other = newCommentSeal(createSecretKey(Buffer.alloc(32, 8)));
    expect(other.openFirst(sealed, uuid(1))).toBeUndefined();
    for (const broken of ['', 'v1', 'v1.', 'v2', 'v2.AAAA', sealed.slice(0, 20), sealed.slice(3)])
      expect(newCommentSeal(TEST_KEY).openFirst(broken, uuid(1)), broken).toBeUndefined();
  });
});

describe('the digest of a comment', () => {
  it('is the same for the same text and tells nothing without the key', () => {
    const comments = newCommentSeal(TEST_KEY);
    const other = newCommentSeal(createSecretKey(Buffer.alloc(32, 8)));
    expect(comments.digest(TEXT)).toBe(newCommentSeal(TEST_KEY).digest(TEXT));
    expect(comments.digest(TEXT)).not.toBe(comments.digest(`${TEXT} `));
    expect(comments.digest(TEXT)).not.toBe(other.digest(TEXT));
  });
});

describe('a derived key', () => {
  it('is one for each purpose', () => {
    const purposes = ['kotyle data keys', 'kotyle comment seal', 'kotyle comment digest'];
    const keys = purposes.map((purpose) => derivedKey(TEST_KEY, purpose).toString('hex'));
    expect(new Set(keys).size).toBe(purposes.length);
    expect(keys[0]).toHaveLength(64);
  });
});
