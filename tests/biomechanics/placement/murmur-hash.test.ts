import { expect, test } from 'vitest';
import { finishHash, hashWord } from '../../../src/biomechanics/placement/murmur-hash.js';

function hashText(text: string, seed: number): number {
  const bytes = new TextEncoder().encode(text);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const words = Array.from({ length: bytes.length / 4 }, (_, index) => view.getUint32(index * 4, true));
  return finishHash(words.reduce(hashWord, seed), words.length);
}

// Published test vectors of MurmurHash3_x86_32, from the answer by I. Boyd, Stack Overflow 31929528, made with the
// author's own test program; those that are a whole number of words.
test.each([
  ['', 0, 0],
  ['', 1, 0x514e28b7],
  ['', 0xffffffff, 0x81f16f39],
  ['\0\0\0\0', 0, 0x2362f9de],
  ['aaaa', 0x9747b28c, 0x5a97808a],
  ['abcd', 0x9747b28c, 0xf0478627],
  ['ππππππππ', 0x9747b28c, 0xd58063c1],
  ['a'.repeat(256), 0x9747b28c, 0x37405bdc],
])('%j with seed %i has the published hash %i', (text, seed, expected) => {
  expect(hashText(text, seed)).toBe(expected);
});

test('words count by their 32 bits, whether written signed or unsigned', () => {
  expect(finishHash(hashWord(0, -1), 1)).toBe(finishHash(hashWord(0, 0xffffffff), 1));
  // The bytes FF FF FF FF of the same list of vectors.
  expect(finishHash(hashWord(0, -1), 1)).toBe(0x76293b50);
});

test('the example in the doc block is true', () => {
  expect(finishHash(hashWord(hashWord(0, 1), 2), 2)).toBe(3278122630);
});
