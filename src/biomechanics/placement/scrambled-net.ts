import { finishHash, hashWord } from './murmur-hash.js';

const BASE = 5;
const DIGITS = 4;
/** Words a hash can be. */
const HASHES = 2 ** 32;

/** Points of one set: 5^4. */
export const NET_POINTS = BASE ** DIGITS;

/** A point of the unit cube, strictly inside. */
export type UnitPoint = readonly [number, number, number];

/** Pascal's triangle as an upper triangular matrix. */
const PASCAL = [
  [1, 1, 1, 1],
  [0, 1, 2, 3],
  [0, 0, 1, 3],
  [0, 0, 0, 1],
] as const;

function at<T>(list: readonly T[], index: number): T {
  const found = list[index];
  if (found === undefined) throw new RangeError(`no entry ${index} in a list of ${list.length}`);
  return found;
}

function timesPascal(digits: readonly number[]): readonly number[] {
  return PASCAL.map((row) => digits.reduce((sum, digit, column) => sum + digit * at(row, column), 0) % BASE);
}

/** Number whose digits, the most significant first, are these. */
function cellOf(digits: readonly number[]): number {
  return digits.reduce((cell, digit) => cell * BASE + digit, 0);
}

/** The net before scrambling: for each point the cell, out of 625, it lies in along each of the three axes. */
const FAURE_NET = Array.from({ length: NET_POINTS }, (_, index) => {
  const first = Array.from({ length: DIGITS }, (_digit, place) => Math.floor(index / BASE ** place) % BASE);
  const second = timesPascal(first);
  const third = timesPascal(second);
  return [cellOf(first), cellOf(second), cellOf(third)] as const;
});

/** All orders of a list, as in a dictionary. */
function ordersOf(list: readonly number[]): readonly (readonly number[])[] {
  if (list.length === 0) return [[]];
  return list.flatMap((first) =>
    ordersOf(list.filter((other) => other !== first)).map((rest) => [first, ...rest]),
  );
}

const DIGIT_ORDERS = ordersOf([0, 1, 2, 3, 4]);

/**
 * Where the points of each of the 625 cells of one axis go. Every node of the tree of digits has a number: the root 0,
 * its children 1 to 5, and so on; the hash of that number permutes the node's children, or places the point in its cell.
 */
function scrambledAxis(seed: number, set: number, axis: number): readonly number[] {
  const beginning = hashWord(hashWord(seed, set), axis);
  const hashOf = (node: number): number => finishHash(hashWord(beginning, node), 3);
  let firstNode = 0;
  let cells: readonly number[] = [0];
  while (cells.length < NET_POINTS) {
    const parents = cells;
    const start = firstNode;
    cells = parents.flatMap((cell, index) =>
      at(DIGIT_ORDERS, hashOf(start + index) % DIGIT_ORDERS.length).map((digit) => cell * BASE + digit),
    );
    firstNode += parents.length;
  }
  return cells.map((cell, index) => (cell + (hashOf(firstNode + index) + 0.5) / HASHES) / NET_POINTS);
}

/**
 * One randomly scrambled low-discrepancy set: 625 points that fill the unit cube far more evenly than random ones, while
 * each of them alone is uniformly distributed. Sets of different numbers are independent.
 *
 * Frame: the unit cube.
 * Units: none.
 * Domain: seed and set integers in [0, 2^32); RangeError outside.
 * Method: Faure's (0,4,3)-net in base 5 (generator matrices the powers 0, 1, 2 of Pascal's matrix modulo 5), with Owen's
 * nested uniform scrambling: in each axis every digit is permuted by a permutation that depends on all digits before it.
 * After four digits each point is alone in its cell, so all further digits are one uniform number. Randomness is a hash
 * of seed, set, axis and digits before; integers, products with powers of 2 and one division, so the same to the bit in
 * every JavaScript engine.
 * Source: ours; Faure 1982 for the net and Owen 1995 for the scrambling, both named from memory.
 * Checked: net property, strata and uniformity in tests/biomechanics/placement/scrambled-net.test.ts.
 * Limits: three dimensions; 32 random bits below the fourth digit.
 *
 * @example
 * scrambledNet(1, 0)[0]
 * //=> [0.6319, 0.6515, 0.0325] (rounded)
 */
export function scrambledNet(seed: number, set: number): readonly UnitPoint[] {
  assertWord('seed', seed);
  assertWord('set', set);
  const [x, y, z] = [scrambledAxis(seed, set, 0), scrambledAxis(seed, set, 1), scrambledAxis(seed, set, 2)];
  return FAURE_NET.map(([first, second, third]) => [at(x, first), at(y, second), at(z, third)]);
}

function assertWord(name: string, value: number): void {
  if (value >>> 0 === value) return;
  throw new RangeError(`${name} must be an integer in [0, 2^32), got ${value}`);
}
