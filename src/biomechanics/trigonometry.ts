import { degrees, type Degrees } from '../base/units.js';

const RADIANS_PER_DEGREE = Math.PI / 180;

/** How far a sine may leave [-1, 1] through rounding alone before it is an error of the caller. */
const SINE_OVERSHOOT = 1e-12;

/** Sine of an angle in degrees. */
export function sinDeg(angle: number): number {
  return Math.sin(angle * RADIANS_PER_DEGREE);
}

/** Cosine of an angle in degrees. */
export function cosDeg(angle: number): number {
  return Math.cos(angle * RADIANS_PER_DEGREE);
}

/** Angle in degrees, in [-180, 180], of the point (x, y); arguments in the order of `Math.atan2`. */
export function atan2Deg(y: number, x: number): Degrees {
  return degrees(Math.atan2(y, x) / RADIANS_PER_DEGREE);
}

/** Inverse sine in degrees. The one place that clamps: rounding overshoot is cut off, anything more is a RangeError. */
export function asinDeg(sine: number): Degrees {
  if (!(Math.abs(sine) <= 1 + SINE_OVERSHOOT)) throw new RangeError(`sine must lie in [-1, 1], got ${sine}`);
  return degrees(Math.asin(Math.min(1, Math.max(-1, sine))) / RADIANS_PER_DEGREE);
}
