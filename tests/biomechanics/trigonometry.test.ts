import { describe, expect, test } from 'vitest';
import { asinDeg, atan2Deg, cosDeg, sinDeg } from '../../src/biomechanics/trigonometry.js';
import { expectWithin } from './tolerance.js';

// One rounding of the conversion between degrees and radians.
const ROUNDING = 1e-13;

describe('trigonometry in degrees', () => {
  test.each([
    [0, 0, 1],
    [30, 0.5, Math.sqrt(3) / 2],
    [45, Math.SQRT1_2, Math.SQRT1_2],
    [90, 1, 0],
    [180, 0, -1],
    [-30, -0.5, Math.sqrt(3) / 2],
  ])('sine and cosine of %s degrees are the known ones', (angle, sine, cosine) => {
    expectWithin(sinDeg(angle), sine, ROUNDING);
    expectWithin(cosDeg(angle), cosine, ROUNDING);
  });

  test('the inverse functions give degrees in the right quadrant', () => {
    expectWithin(asinDeg(0.5), 30, ROUNDING);
    expectWithin(atan2Deg(1, -1), 135, ROUNDING);
    expectWithin(atan2Deg(-1, -1), -135, ROUNDING);
  });

  test('a sine that leaves [-1, 1] by rounding is cut off, and by more is refused', () => {
    expectWithin(asinDeg(1 + 1e-15), 90, ROUNDING);
    expectWithin(asinDeg(-1 - 1e-15), -90, ROUNDING);
    expect(() => asinDeg(1.001)).toThrow(RangeError);
    expect(() => asinDeg(-1.001)).toThrow(RangeError);
    expect(() => asinDeg(Number.NaN)).toThrow(RangeError);
  });
});
