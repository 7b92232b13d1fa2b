import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { exactly, isExact, spanOf } from '../../src/base/interval.js';
import { byText, compareText, sortedUnique } from '../../src/base/order.js';
import { roundForUnit, roundToDecimals } from '../../src/base/rounding.js';

describe('rounding', () => {
  it('keeps six decimals of angles and lengths, nine of ratios and three of forces', () => {
    // Truth: the project's design: angles and lengths 1e-6, ratios 1e-9, forces 1e-3.
    expect(roundForUnit(1.23456789012, 'deg')).toBe(1.234568);
    expect(roundForUnit(1.23456789012, 'mm')).toBe(1.234568);
    expect(roundForUnit(1.23456789012, '1')).toBe(1.23456789);
    expect(roundForUnit(1.23456789012, 'N')).toBe(1.235);
    expect(roundForUnit(1.23456789012, 'kg/m2')).toBe(1.234568);
  });

  it('lies within half a step, changes nothing the second time and has no negative zero', () => {
    // Truth: closed form; the slack is the spacing of doubles at the size of the value.
    fc.assert(
      fc.property(fc.double({ min: -1e4, max: 1e4, noNaN: true }), (value) => {
        const rounded = roundToDecimals(value, 6);
        expect(Math.abs(rounded - value)).toBeLessThanOrEqual(0.5e-6 + 1e-11);
        expect(roundToDecimals(rounded, 6)).toBe(rounded);
        expect(Object.is(rounded, -0)).toBe(false);
      }),
      { numRuns: 2000, seed: 6 },
    );
    expect(Object.is(roundToDecimals(-1e-9, 6), 0)).toBe(true);
  });

  it('absorbs a difference in the last bit, unless it falls on the edge of a step', () => {
    // Truth: closed form; the reason why computed numbers are rounded before they are compared.
    for (const value of [9.317486, 15.209446, 57.29577951308232]) {
      expect(roundForUnit(value * (1 + Number.EPSILON), 'mm')).toBe(roundForUnit(value, 'mm'));
    }
  });

  it('leaves numbers too large for the step as they are and refuses what is no number', () => {
    // Truth: closed form; above 2^53 doubles are whole.
    expect(roundToDecimals(1e300, 6)).toBe(1e300);
    for (const value of [NaN, Infinity, -Infinity])
      expect(() => roundToDecimals(value, 6)).toThrow(RangeError);
  });
});

describe('an interval', () => {
  it('of numbers holds all of them and no more', () => {
    // Truth: closed form.
    fc.assert(
      fc.property(fc.array(fc.integer(), { minLength: 1 }), (values) => {
        const { low, high } = spanOf(values);
        expect(values).toContain(low);
        expect(values).toContain(high);
        expect(values.every((value) => value >= low && value <= high)).toBe(true);
      }),
      { numRuns: 300, seed: 7 },
    );
  });

  it('of one number is exact, of none does not exist', () => {
    // Truth: closed form.
    expect(isExact(exactly(3))).toBe(true);
    expect(isExact({ low: 3, high: 4 })).toBe(false);
    expect(() => spanOf([])).toThrow(RangeError);
  });
});

describe('the order of texts', () => {
  it('is that of UTF-16 code units, not that of a language', () => {
    // Truth: independent implementation, the default sort of ECMAScript; a locale would put "ä" beside "a".
    const texts = ['b', 'ä', 'a', 'B', '10', '9', '\ufb33', '\ud83d\ude00', ''];
    expect([...texts].sort(compareText)).toEqual([...texts].sort());
    expect([...texts].sort(compareText).indexOf('ä')).toBeGreaterThan(
      [...texts].sort(compareText).indexOf('b'),
    );
    expect(compareText('a', 'a')).toBe(0);
  });

  it('sorts by a member and drops repeats', () => {
    // Truth: closed form.
    expect([{ id: 'b' }, { id: 'a' }].sort(byText(({ id }) => id)).map(({ id }) => id)).toEqual(['a', 'b']);
    const given = ['b', 'a', 'b'];
    expect(sortedUnique(given)).toEqual(['a', 'b']);
    expect(given).toEqual(['b', 'a', 'b']);
  });
});
