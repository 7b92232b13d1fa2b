import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatBeside, formatDimension, formatQuantity } from '../../src/render/format.js';

// Truth: clinical decisions §3: angles without decimals, millimetres with one.
describe('a number for a reader', () => {
  it.each([
    [59.6, 'deg', '60°'],
    [-10.2, 'deg', '-10°'],
    [-0.3, 'deg', '0°'],
    [9.317486, 'mm', '9.3 mm'],
    [15.25, 'mm', '15.3 mm'],
    [-0.04, 'mm', '0.0 mm'],
    [36, 'mm', '36.0 mm'],
    [0.258819, 'mm/mm', '0.26 mm'],
    [2.333333333, '1', '2.33'],
    [58, '%', '58 %'],
    [8.87, 'a', '8.9 years'],
    [1, 'a', '1 year'],
    [75, 'a', '75 years'],
    [14.2, 'ug/L', '14.2 µg/L'],
    [3, '{grade}', '3 {grade}'],
  ])('%d in %s is %s', (value, unit, text) => {
    expect(formatQuantity(value, unit)).toBe(text);
  });

  it('rounds half away from zero in decimal, although the binary value lies below', () => {
    // Truth: closed form; 1.005 and 0.15 have no exact binary form and toFixed rounds them down.
    expect(formatQuantity(0.15, 'mm')).toBe('0.2 mm');
    expect(formatQuantity(1.005, '1')).toBe('1.01');
    expect(formatQuantity(-0.15, 'mm')).toBe('-0.2 mm');
  });

  it('is within half of its last place of the value', () => {
    // Truth: closed form.
    fc.assert(
      fc.property(fc.double({ min: -200, max: 200, noNaN: true }), (value) => {
        expect(Math.abs(Number.parseFloat(formatQuantity(value, 'deg')) - value)).toBeLessThanOrEqual(
          0.5 + 1e-9,
        );
        expect(Math.abs(Number.parseFloat(formatQuantity(value, 'mm')) - value)).toBeLessThanOrEqual(
          0.05 + 1e-9,
        );
      }),
      { numRuns: 1000, seed: 1 },
    );
  });

  it('that is a size off the shelf has no decimals it was not given', () => {
    // Truth: clinician, the example of the clinical decisions §3: "a 36 mm head".
    expect(formatDimension(36, 'mm')).toBe('36 mm');
    expect(formatDimension(22.2, 'mm')).toBe('22.2 mm');
    expect(formatDimension(40, 'deg')).toBe('40°');
  });
});

describe('an angle beside its limit', () => {
  it.each([
    [60, [58], '60°'],
    [58.2, [58], '58.2°'],
    [57.8, [58], '57.8°'],
    [58.04, [58], '58.04°'],
    [58.2451, [58], '58.2°'],
    [58.0451, [58], '58.05°'],
    [58, [58], '58°'],
    [50.4, [50, 58], '50.4°'],
    [58.000001, [58], '58.000001°'],
  ])('%d beside %j is %s: it never rounds onto or over its limit', (value, limits, text) => {
    // Truth: closed form: "58° is above 58°" tells nobody anything; a millionth is the finest step a value can have.
    expect(formatBeside(value, 'deg', limits)).toBe(text);
  });

  it.each([
    [8.89, [1, 5], '8.9 years'],
    [0.99, [1], '0.99 years'],
    [4.98, [1, 5], '4.98 years'],
    [1, [1], '1 year'],
  ])('%d years beside their limit %j are %s', (value, limits, text) => {
    // Truth: closed form: "early, after 1 year" where early ends at one year tells nobody anything.
    expect(formatBeside(value, 'a', limits)).toBe(text);
  });

  it('lies as shown on the same side of every limit as the value itself', () => {
    // Truth: closed form, down to a thousandth of a degree, finer than any angle is stated.
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 90_000 }),
        fc.uniqueArray(fc.constantFrom(0, 5, 30, 34, 50, 58), { minLength: 1 }),
        (thousandths, limits) => {
          const value = thousandths / 1000;
          const shown = Number.parseFloat(formatBeside(value, 'deg', limits));
          for (const limit of limits) expect(Math.sign(shown - limit)).toBe(Math.sign(value - limit));
        },
      ),
      { numRuns: 2000, seed: 2 },
    );
  });

  it('is a plain dimension in any other unit', () => {
    // Truth: closed form.
    expect(formatBeside(36, 'mm', [36.01])).toBe('36 mm');
  });
});
