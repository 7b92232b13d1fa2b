import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/base/canonical-json.js';
import { contentHash, contentUuid, sha256Hex } from '../../src/base/hash.js';

const node = (text: string): string => createHash('sha256').update(text, 'utf8').digest('hex');

describe('SHA-256', () => {
  it('gives the digests that FIPS 180-4 prints for its examples', () => {
    // Truth: published, the one-block and two-block examples of FIPS 180-4, and the empty message.
    expect(sha256Hex('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
    expect(sha256Hex('abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq')).toBe(
      '248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1',
    );
    expect(sha256Hex('')).toBe('e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855');
  });

  it('agrees with node:crypto on any text, in UTF-8', () => {
    // Truth: independent implementation.
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme', maxLength: 300 }), (text) => {
        expect(sha256Hex(text)).toBe(node(text));
      }),
      { numRuns: 500, seed: 180 },
    );
  });

  it('names content by the digest of its canonical JSON', () => {
    // Truth: independent implementation over the canonical form, which has its own tests.
    const value = { b: [1, 2.5], a: 'ä' };
    expect(contentHash(value)).toBe(`sha256-${node('{"a":"ä","b":[1,2.5]}')}`);
    expect(contentHash({ a: 'ä', b: [1, 2.5] })).toBe(contentHash(value));
  });
});

describe('a content UUID', () => {
  it('has version 8 and variant 10 in the places RFC 9562 gives them, and else the first 128 bits of the digest', () => {
    // Truth: published, RFC 9562, section 5.8 (custom_a 48 bits, ver 4, custom_b 12, var 2, custom_c 62).
    fc.assert(
      fc.property(fc.string(), (text) => {
        const uuid = contentUuid(text);
        expect(uuid).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
        const got = BigInt(`0x${uuid.replaceAll('-', '')}`);
        const digest = BigInt(`0x${node(canonicalJson(text)).slice(0, 32)}`);
        const fixed = (0xfn << 76n) | (0x3n << 62n);
        expect(got & ~fixed).toBe(digest & ~fixed);
        expect((got >> 76n) & 0xfn).toBe(8n);
        expect((got >> 62n) & 0x3n).toBe(2n);
      }),
      { numRuns: 300, seed: 9562 },
    );
  });

  it('is the same for the same content and another for other content', () => {
    // Truth: closed form; 300 different contents that shared an id would be a collision of 122 bits.
    expect(contentUuid({ a: 1, b: 2 })).toBe(contentUuid({ b: 2, a: 1 }));
    const ids = new Set(Array.from({ length: 300 }, (_, index) => contentUuid(index)));
    expect(ids.size).toBe(300);
  });
});
