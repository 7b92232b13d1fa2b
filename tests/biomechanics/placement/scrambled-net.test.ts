import jstat from 'jstat';
import { describe, expect, test } from 'vitest';
import {
  NET_POINTS,
  scrambledNet,
  type UnitPoint,
} from '../../../src/biomechanics/placement/scrambled-net.js';
import { expectWithin } from '../tolerance.js';

const SEEDS = [0, 1, 2, 12345, 0xffffffff] as const;
const AXES = [0, 1, 2] as const;

/** The fifteen ways to cut the cube into 625 equal boxes whose sides are powers of 1/5. */
const SHAPES = shapes();

function shapes(): readonly UnitPoint[] {
  const cuts = [0, 1, 2, 3, 4];
  return cuts.flatMap((a) => cuts.filter((b) => a + b <= 4).map((b): UnitPoint => [a, b, 4 - a - b]));
}

function digit(coordinate: number, place: number): number {
  return Math.floor(coordinate * 5 ** place) % 5;
}

/** Chance of counts as uneven as these, or more, if all were equally likely; Pearson's test. */
function chanceOfUnevenness(counts: readonly number[]): number {
  const expected = counts.reduce((sum, count) => sum + count, 0) / counts.length;
  const statistic = counts.reduce((sum, count) => sum + (count - expected) ** 2 / expected, 0);
  return 1 - jstat.chisquare.cdf(statistic, counts.length - 1);
}

function counted(values: readonly number[], size: number): readonly number[] {
  return Array.from({ length: size }, (_, value) => values.filter((found) => found === value).length);
}

describe('each scrambled set', () => {
  // The definition of a (0,4,3)-net in base 5 (Niederreiter): one point in every elementary interval of volume 5^-4.
  test.each(SHAPES)('has one point in each of the boxes with sides 5^-%i, 5^-%i, 5^-%i', (...cuts) => {
    for (const seed of SEEDS) {
      for (const set of [0, 7, 15]) {
        const boxes = scrambledNet(seed, set).map((point) =>
          AXES.map((axis) => Math.floor(point[axis] * 5 ** cuts[axis])).join(),
        );
        expect(new Set(boxes).size).toBe(NET_POINTS);
      }
    }
  });

  test('has one point in each 625th of every axis', () => {
    for (const axis of AXES) {
      const strata = scrambledNet(3, 4).map((point) => Math.floor(point[axis] * NET_POINTS));
      expect(strata.sort((a, b) => a - b)).toEqual(Array.from({ length: NET_POINTS }, (_, index) => index));
    }
  });

  test('lies strictly inside the unit cube', () => {
    for (const seed of SEEDS) {
      const coordinates = scrambledNet(seed, 15).flat();
      expect(Math.min(...coordinates)).toBeGreaterThan(0);
      expect(Math.max(...coordinates)).toBeLessThan(1);
    }
  });

  // Nesting: points with equal leading digits keep equal leading digits, whatever the seed.
  test('keeps together in every axis what shares its leading digits', () => {
    const [before, after] = [scrambledNet(1, 0), scrambledNet(2, 3)];
    for (const axis of AXES) {
      for (const parts of [5, 25, 125]) {
        const pairs = before.map((point, index) =>
          [point, after[index] ?? point].map((found) => Math.floor(found[axis] * parts)).join(),
        );
        expect(new Set(pairs).size).toBe(parts);
      }
    }
  });
});

describe('randomness', () => {
  test('the same seed and set give the same points to the bit, pinned so that a changed hash is noticed', () => {
    expect(scrambledNet(1, 0)).toEqual(scrambledNet(1, 0));
    expect(scrambledNet(1, 0)[0]).toEqual([0.6318659456966444, 0.6514845190772787, 0.03248262232150882]);
  });

  test('sets and seeds differ', () => {
    const all = SEEDS.flatMap((seed) => [0, 1, 15].map((set) => scrambledNet(seed, set)[100]?.join()));
    expect(new Set(all).size).toBe(SEEDS.length * 3);
  });

  const points = Array.from({ length: 2500 }, (_, seed) => scrambledNet(seed, seed % 16));
  const coordinates = (index: number, axis: 0 | 1 | 2): readonly number[] =>
    points.map((net) => net[index]?.[axis] ?? Number.NaN);

  // A point of Owen's scrambling is uniform in the cube. 76 chances, each below 1e-4 once in 10,000.
  test('over 2,500 seeds each digit of a point is uniform, and its axes are independent', () => {
    for (const index of [0, 1, 312, 624]) {
      for (const axis of AXES) {
        for (const place of [1, 2, 3, 4, 5, 6]) {
          const digits = coordinates(index, axis).map((coordinate) => digit(coordinate, place));
          expect(chanceOfUnevenness(counted(digits, 5))).toBeGreaterThan(1e-4);
        }
      }
      const [x, y, z] = AXES.map((axis) => coordinates(index, axis).map((found) => digit(found, 1)));
      const cells = (x ?? []).map((first, at) => first * 25 + (y?.[at] ?? 0) * 5 + (z?.[at] ?? 0));
      expect(chanceOfUnevenness(counted(cells, 125))).toBeGreaterThan(1e-4);
    }
  });

  test('two points that part at a digit get any two different digits there, equally often', () => {
    // Along the first axis points 0 and 1 part at the first digit, points 0 and 5 share it and part at the second.
    for (const [other, place] of [
      [1, 1],
      [5, 2],
      [25, 3],
      [125, 4],
    ] as const) {
      const pairs = coordinates(0, 0).map(
        (first, at) => digit(first, place) * 5 + digit(coordinates(other, 0)[at] ?? 0, place),
      );
      const counts = counted(pairs, 25);
      expect(counts.filter((_, pair) => pair % 6 === 0)).toEqual([0, 0, 0, 0, 0]);
      expect(chanceOfUnevenness(counts.filter((_, pair) => pair % 6 !== 0))).toBeGreaterThan(1e-4);
    }
  });

  // Closed form: the mean of xyz over the cube is 1/8, its standard deviation sqrt(1/27 - 1/64) = 0.146.
  test('the mean of a smooth function is found without bias and far better than by random points', () => {
    const errors = points.map(
      (net) => net.reduce((sum, [x, y, z]) => sum + x * y * z, 0) / NET_POINTS - 1 / 8,
    );
    const rms = Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
    const bias = errors.reduce((sum, error) => sum + error, 0) / errors.length;
    expect(rms).toBeLessThan(Math.sqrt(1 / 27 - 1 / 64) / Math.sqrt(NET_POINTS) / 20);
    expectWithin(bias, 0, (4 * rms) / Math.sqrt(errors.length));
  });
});

test.each([-1, 0.5, 2 ** 32, Number.NaN])('%s is refused as seed and as set', (value) => {
  expect(() => scrambledNet(value, 0)).toThrow(RangeError);
  expect(() => scrambledNet(0, value)).toThrow(RangeError);
});
