import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { dualMobilityRange, type DualMobility } from '../../../src/biomechanics/range/dual-mobility.js';
import { liner } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

const BEARING: DualMobility = {
  head: millimetres(28),
  mobileOpening: degrees(150),
  mobileWall: millimetres(6),
  cup: liner(42),
  neck: { diameter: millimetres(12) },
};

const asinDeg = (sine: number): number => (Math.asin(sine) * 180) / Math.PI;

describe('a dual mobility bearing', () => {
  test('turns in its mobile liner first, and in all until the neck meets the cup', () => {
    // Closed forms, ours: 75 - asin(6 / 14) inside; acos(6 / 21) in all.
    const { inner, outer } = dualMobilityRange(BEARING);
    expectWithin(inner, 75 - asinDeg(6 / 14), 1e-9);
    expectWithin(outer.evenHalf ?? 0, 90 - asinDeg(6 / 21), 1e-9);
  });

  test('is limited by the cup whatever the inner head, and gains range with the mobile liner', () => {
    const small = dualMobilityRange({ ...BEARING, head: millimetres(22) });
    const large = dualMobilityRange({ ...BEARING, cup: liner(48) });
    const base = dualMobilityRange(BEARING);
    expect(small.outer.evenHalf).toBe(base.outer.evenHalf);
    expect(small.inner).toBeLessThan(base.inner);
    expect(large.outer.evenHalf).toBeGreaterThan(base.outer.evenHalf ?? Infinity);
  });

  test.each([
    ['a neck as thick as the inner head', { neck: { diameter: millimetres(28) } }, /neck diameter/],
    ['a head as large as the mobile liner', { head: millimetres(42) }, /smaller than the mobile liner/],
    ['a mobile liner that holds nothing', { mobileOpening: degrees(180) }, /opening below 180/],
  ])('%s is refused', (_, change, message) => {
    expect(() => dualMobilityRange({ ...BEARING, ...change })).toThrow(message);
  });
});
