const BYTES_PER_WORD = 4;

function rotateLeft(word: number, by: number): number {
  return (word << by) | (word >>> (32 - by));
}

/**
 * Takes one more 32-bit word into a MurmurHash3; a hash begins as its seed.
 *
 * Frame: none.
 * Units: none; 32-bit integers, signed out.
 * Domain: integers; only their low 32 bits count.
 * Method: MurmurHash3 for x86 with 32 bits (public domain, A. Appleby). Integer arithmetic alone, so every JavaScript
 * engine gives the same bits. Words instead of bytes, and a step for each, so that a common beginning is hashed once.
 * Source: ours; the algorithm is in the public domain.
 * Checked: test vectors in tests/biomechanics/placement/murmur-hash.test.ts.
 * Limits: spreads well, hides nothing: not for secrets.
 *
 * @example
 * finishHash(hashWord(hashWord(0, 1), 2), 2)
 * //=> 3278122630
 */
export function hashWord(hash: number, word: number): number {
  const mixed = Math.imul(rotateLeft(Math.imul(word, 0xcc9e2d51), 15), 0x1b873593);
  return (Math.imul(rotateLeft(hash ^ mixed, 13), 5) + 0xe6546b64) | 0;
}

/** Ends a MurmurHash3 of so many words: an integer in [0, 2^32). The hash may still be continued with other words. */
export function finishHash(hash: number, words: number): number {
  const counted = hash ^ (words * BYTES_PER_WORD);
  const once = Math.imul(counted ^ (counted >>> 16), 0x85ebca6b);
  const twice = Math.imul(once ^ (once >>> 13), 0xc2b2ae35);
  return (twice ^ (twice >>> 16)) >>> 0;
}
