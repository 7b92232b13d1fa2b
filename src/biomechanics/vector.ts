import type { Degrees } from '../base/units.js';
import { atan2Deg, cosDeg, sinDeg } from './trigonometry.js';

declare const frame: unique symbol;

/**
 * The two frames of the hip. Both are right-handed on a right hip: X anterior, Y cranial, Z lateral to the operated
 * side. `pelvis` moves with the pelvis, `femur` with the femur; in neutral position their axes coincide.
 * A left hip is mirrored once, where it enters the program, so nothing in this folder depends on side.
 */
export type Frame = 'pelvis' | 'femur';

/** A vector that remembers, at compile time, the frame its components are stated in. */
export type Vec3<F extends Frame> = readonly [x: number, y: number, z: number] & { readonly [frame]: F };

function finiteVector<F extends Frame>(x: number, y: number, z: number): Vec3<F> {
  if (!Number.isFinite(x) || !Number.isFinite(y) || !Number.isFinite(z)) {
    throw new RangeError(`vector components must be finite, got (${x}, ${y}, ${z})`);
  }
  return [x, y, z] as unknown as Vec3<F>;
}

/** A vector stated in the pelvis frame; RangeError when a component is not finite. */
export function pelvisVector(x: number, y: number, z: number): Vec3<'pelvis'> {
  return finiteVector(x, y, z);
}

/** A vector stated in the femur frame; RangeError when a component is not finite. */
export function femurVector(x: number, y: number, z: number): Vec3<'femur'> {
  return finiteVector(x, y, z);
}

/** Scalar product of two vectors of one frame. */
export function dot<F extends Frame>(a: Vec3<F>, b: Vec3<F>): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/** Right-handed vector product of two vectors of one frame. */
export function cross<F extends Frame>(a: Vec3<F>, b: Vec3<F>): Vec3<F> {
  return finiteVector(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]);
}

/** Euclidean length. */
export function length(v: Vec3<Frame>): number {
  return Math.hypot(v[0], v[1], v[2]);
}

/** The unit vector in the direction of `v`; RangeError for the zero vector, which has no direction. */
export function normalise<F extends Frame>(v: Vec3<F>): Vec3<F> {
  const norm = length(v);
  if (norm === 0) throw new RangeError('the zero vector has no direction');
  return finiteVector(v[0] / norm, v[1] / norm, v[2] / norm);
}

/**
 * Angle between two directions.
 *
 * Frame: any, the same for both.
 * Units: degrees out, in [0, 180]; the lengths of the vectors do not matter.
 * Domain: vectors other than zero; RangeError otherwise.
 * Method: atan2(|a x b|, a . b) of the unit vectors, which keeps its precision near 0 and 180 degrees where acos loses it.
 * Source: ours; elementary geometry.
 * Checked: against three's Vector3 and by limit cases in tests/biomechanics/vector.test.ts.
 * Limits: none beyond double precision.
 *
 * @example
 * angleBetween(pelvisVector(1, 0, 0), pelvisVector(1, 1, 0))
 * //=> 45 (degrees)
 */
export function angleBetween<F extends Frame>(a: Vec3<F>, b: Vec3<F>): Degrees {
  const from = normalise(a);
  const to = normalise(b);
  return atan2Deg(length(cross(from, to)), dot(from, to));
}

/** `angleBetween` for two unit vectors, without making them so and without another vector: for innermost loops. */
export function angleBetweenUnits<F extends Frame>(a: Vec3<F>, b: Vec3<F>): Degrees {
  const x = a[1] * b[2] - a[2] * b[1];
  const y = a[2] * b[0] - a[0] * b[2];
  const z = a[0] * b[1] - a[1] * b[0];
  return atan2Deg(Math.sqrt(x * x + y * y + z * z), dot(a, b));
}

/** Rotates `v` about X by the right-hand rule: `(x, y cos t - z sin t, y sin t + z cos t)`. */
export function rotateX<F extends Frame>(angle: Degrees, v: Vec3<F>): Vec3<F> {
  const [x, y, z] = v;
  const cos = cosDeg(angle);
  const sin = sinDeg(angle);
  return finiteVector(x, y * cos - z * sin, y * sin + z * cos);
}

/** Rotates `v` about Y by the right-hand rule: `(x cos t + z sin t, y, -x sin t + z cos t)`. */
export function rotateY<F extends Frame>(angle: Degrees, v: Vec3<F>): Vec3<F> {
  const [x, y, z] = v;
  const cos = cosDeg(angle);
  const sin = sinDeg(angle);
  return finiteVector(x * cos + z * sin, y, -x * sin + z * cos);
}

/** Rotates `v` about Z by the right-hand rule: `(x cos t - y sin t, x sin t + y cos t, z)`. */
export function rotateZ<F extends Frame>(angle: Degrees, v: Vec3<F>): Vec3<F> {
  const [x, y, z] = v;
  const cos = cosDeg(angle);
  const sin = sinDeg(angle);
  return finiteVector(x * cos - y * sin, x * sin + y * cos, z);
}
