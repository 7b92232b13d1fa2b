import fc from 'fast-check';
import jstat from 'jstat';
import { describe, expect, test } from 'vitest';
import { normalQuantile } from '../../../src/biomechanics/placement/normal-quantile.js';
import { expectWithin } from '../tolerance.js';

// Printed by J. Burkardt's test program of AS 241 (asa241_prb_output.txt): tabulated normal distribution function with
// 16 digits. The share of 0.6 is 6e-16 too high there (its series gives 0.72574688224992642), and none is further off.
const TABLE_ERROR = 7e-16;
const TABLE = [
  [0.5, 0],
  [0.539827837277029, 0.1],
  [0.579259709439103, 0.2],
  [0.6179114221889526, 0.3],
  [0.6554217416103242, 0.4],
  [0.6914624612740131, 0.5],
  [0.725746882249927, 0.6],
  [0.758036347776927, 0.7],
  [0.7881446014166033, 0.8],
  [0.8159398746532405, 0.9],
  [0.8413447460685429, 1],
  [0.9331927987311419, 1.5],
  [0.9772498680518208, 2],
  [0.993790334674224, 2.5],
  [0.9986501019683699, 3],
  [0.9997673709209645, 3.5],
  [0.9999683287581669, 4],
] as const;

function density(z: number): number {
  return Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
}

describe('normal quantile', () => {
  test.each(TABLE)('of the tabulated share %f is %f', (share, z) => {
    expectWithin(normalQuantile(share), z, 1e-15 + TABLE_ERROR / density(z));
  });

  // A separate implementation by another method (Newton steps on the complementary error function).
  test('agrees with jstat from 5 deviations below to the middle', () => {
    for (let z = -5; z <= 0; z += 0.01) {
      const p = jstat.normal.cdf(z, 0, 1);
      // jstat loses digits in the tail: 1e-11 here, 1e-6 at 7 deviations; the continued fraction below serves there.
      expectWithin(normalQuantile(p), jstat.normal.inv(p, 0, 1), 1e-10);
    }
  });

  // Closed form: for large x, 1 - Phi(x) = density(x) / (x + 1/(x + 2/(x + 3/(x + ...)))), Laplace's continued fraction.
  test('inverts the continued fraction of the far tail, on both sides of every seam', () => {
    for (let x = 3; x < 8; x += 0.0625) {
      let fraction = x;
      for (let term = 200; term >= 1; term -= 1) fraction = x + term / fraction;
      expectWithin(normalQuantile(density(x) / fraction), -x, 1e-14);
    }
  });

  test('is odd about one half, to the bit where 1 - p is exact, and rises', () => {
    const lower = fc.integer({ min: 1, max: 2 ** 30 - 1 }).map((n) => n / 2 ** 31);
    fc.assert(
      fc.property(lower, lower, (p, q) => {
        expect(normalQuantile(1 - p)).toBe(-normalQuantile(p));
        if (p < q) expect(normalQuantile(p)).toBeLessThan(normalQuantile(q));
      }),
      { seed: 1 },
    );
  });

  test('the example in the doc block is true', () => {
    expectWithin(normalQuantile(0.975), 1.959963984540054, 5e-16);
  });

  test.each([0, 1, -0.1, 1.1, Number.NaN])('of %s is refused', (p) => {
    expect(() => normalQuantile(p)).toThrow(RangeError);
  });
});
