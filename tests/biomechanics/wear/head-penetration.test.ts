import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { millimetres } from '../../../src/base/units.js';
import {
  headPenetration,
  penetrationRate,
  type PenetrationCourse,
} from '../../../src/biomechanics/wear/head-penetration.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

function course(beddingIn: number, rateMmPerYear: number, beddingInYears = 0.25): PenetrationCourse {
  return { beddingIn: millimetres(beddingIn), beddingInYears, rateMmPerYear };
}

function rateBetween(first: number, atFirst: number, second: number, atSecond: number): number {
  return penetrationRate({
    earlier: { total: millimetres(first), years: atFirst },
    later: { total: millimetres(second), years: atSecond },
    beddingInYears: 0.25,
  });
}

describe('penetration over time', () => {
  const material = z.object({ beddingMm: z.number(), rateMmPerYear: z.number() });
  const tenYears = workedExample('wear', 'wear-total-penetration-10y', {
    inputs: z.object({ tYears: z.number(), conventional: material, xlpe: material }),
    expected: z.object({ conventionalMm: z.number(), xlpeMm: z.number() }),
  });

  // The sums are derived, printed to two decimals.
  test.each([
    ['conventional', 'conventionalMm'],
    ['xlpe', 'xlpeMm'],
  ] as const)(`%s polyethylene after ten years has the %s of the record (${tenYears.label})`, (name, key) => {
    const { beddingMm, rateMmPerYear } = tenYears.inputs[name];
    expectWithin(
      headPenetration(course(beddingMm, rateMmPerYear), tenYears.inputs.tYears),
      tenYears.expected[key],
      0.005 + 1e-9,
    );
  });

  test('at the end of bedding-in it is the bedding-in', () => {
    expect(headPenetration(course(0.39, 0.12), 0.25)).toBe(0.39);
  });
});

const bedding = fc.double({ min: 0, max: 1, noNaN: true });
const rate = fc.double({ min: 0, max: 0.5, noNaN: true });
const years = fc.double({ min: 0.25, max: 30, noNaN: true });
const more = fc.double({ min: 0.01, max: 5, noNaN: true });

describe('properties', () => {
  test('two readings of one course give its rate back', () => {
    fc.assert(
      fc.property(bedding, rate, years, more, (b, r, t, later) => {
        const [first, second] = [headPenetration(course(b, r), t), headPenetration(course(b, r), t + later)];
        // Differences of a few millimetres over 0.01 years.
        expectWithin(rateBetween(first, t, second, t + later), r, 1e-9);
      }),
      { seed: 61 },
    );
  });

  test('nothing improves with time, with bedding-in or with what is found later', () => {
    fc.assert(
      fc.property(bedding, rate, years, more, (b, r, t, added) => {
        const total = headPenetration(course(b, r), t);
        expect(headPenetration(course(b, r), t + added)).toBeGreaterThanOrEqual(total);
        expect(headPenetration(course(b + added, r), t)).toBeGreaterThan(total);
        expect(headPenetration(course(b, r + added), t)).toBeGreaterThanOrEqual(total);
        expect(rateBetween(1, t, 1 + added + r, t + 1)).toBeGreaterThan(rateBetween(1, t, 1 + r, t + 1));
      }),
      { seed: 62 },
    );
  });

  test('a later reading below the earlier one gives a negative rate, an error of reading that is not hidden', () => {
    expectWithin(rateBetween(0.5, 1, 0.4, 3), -0.05, 1e-12);
  });
});

describe('domain errors', () => {
  test.each([
    [-0.1, 0.1, 1, 'bedding-in'],
    [0.1, -0.1, 1, 'bedding-in and rate'],
    [0.1, 0.1, 0.2, 'before bedding-in'],
  ])('bedding-in %s, rate %s, %s years are refused with a message about %s', (b, r, t, part) => {
    expect(() => headPenetration(course(b, r), t)).toThrow(RangeError);
    expect(() => headPenetration(course(b, r), t)).toThrow(part.split(' ')[0]);
  });

  test.each([
    [0.5, 0.1, 1, 5, 'bedding-in'],
    [0.5, 5, 1, 5, 'later reading'],
    [-0.5, 1, 1, 5, 'penetration'],
    [0.5, 1, -1, 5, 'penetration'],
  ])(
    '%s mm at %s years and %s mm at %s years are refused with a message about the %s',
    (a, ta, b, tb, part) => {
      expect(() => rateBetween(a, ta, b, tb)).toThrow(RangeError);
      expect(() => rateBetween(a, ta, b, tb)).toThrow(part);
    },
  );
});
