import type { Degrees, Millimetres } from '../../base/units.js';
import { cosDeg, sinDeg } from '../trigonometry.js';

/** A head that has sunk into its liner. */
export interface SunkenHead {
  readonly head: Millimetres;
  /** Total linear penetration. */
  readonly penetration: Millimetres;
  /** Angle between the direction in which the head sank and the inward axis of the cup. */
  readonly angleToCupAxis: Degrees;
}

/** Throws RangeError unless the head is real and has sunk inward. */
export function assertSunken({ head, penetration, angleToCupAxis }: SunkenHead): void {
  if (!(head > 0)) throw new RangeError(`head diameter must be positive, got ${head} mm`);
  if (!(penetration >= 0)) throw new RangeError(`penetration must not be negative, got ${penetration} mm`);
  if (!(angleToCupAxis >= 0 && angleToCupAxis <= 90)) {
    throw new RangeError(`angle to the cup axis must lie in [0, 90] degrees, got ${angleToCupAxis}`);
  }
}

/**
 * Volume worn away, taken as a cylinder, in cubic millimetres.
 *
 * Frame: along the direction in which the head sank.
 * Units: millimetres in, cubic millimetres out.
 * Domain: head positive, penetration not negative; RangeError outside.
 * Method: pi R^2 w; R head radius, w penetration. Exact for a head that sinks along the cup axis, more than the truth otherwise.
 * Source: ours; the volume a moving sphere sweeps beyond itself.
 * Checked: a derived table, met by one published pair, in tests/biomechanics/wear/wear-volume.test.ts.
 * Limits: counts creep as wear; with `wearVolume` at hand a bound only.
 *
 * @example
 * wearVolumeCylinder(millimetres(28), millimetres(2))
 * //=> 1231.5 (mm3, rounded)
 */
export function wearVolumeCylinder(head: Millimetres, penetration: Millimetres): number {
  if (!(head > 0)) throw new RangeError(`head diameter must be positive, got ${head} mm`);
  if (!(penetration >= 0)) throw new RangeError(`penetration must not be negative, got ${penetration} mm`);
  return Math.PI * (head / 2) ** 2 * penetration;
}

/**
 * Volume worn away from a hemispherical liner by a head that sank in any inward direction, in cubic millimetres.
 *
 * Frame: the liner; its opening plane through the center of the unworn head.
 * Units: millimetres and degrees in, cubic millimetres out.
 * Domain: head positive, penetration not negative, angle to the cup axis in [0, 90]; RangeError outside.
 * Method: a sphere that moves by w sweeps pi R^2 w beyond itself; what it sweeps outside the opening plane is no liner. With
 * the center at depth d below that plane, the part of its front outside covers, seen along the travel,
 * L(d) = C(R, d / sin b) - cos b C(sqrt(R^2 - d^2), d cot b), where C(r, h) = r^2 acos(h / r) - h sqrt(r^2 - h^2) is a
 * circle's segment beyond h and b the angle. The volume is pi R^2 w - (integral of L from 0 to D) / cos b, with
 * D = min(w cos b, R sin b), beyond which no part of the front stands outside. The integral is elementary.
 * Source: ours; derived here.
 * Checked: against points counted in space, columns over the disc and limit cases, in tests/biomechanics/wear/wear-volume.test.ts.
 * Limits: liner thick enough, head at first concentric and as wide as the bore; creep counts as wear.
 *
 * @example
 * wearVolume({ head: millimetres(28), penetration: millimetres(2), angleToCupAxis: degrees(45) })
 * //=> 1077.7 (mm3, rounded)
 */
export function wearVolume(sunken: SunkenHead): number {
  assertSunken(sunken);
  return wearVolumeCylinder(sunken.head, sunken.penetration) - sweptOutside(sunken);
}

/**
 * What the head swept outside the opening plane: the integral of L over cos b. Differences of near-equal terms are written
 * as products, so that the result holds up to 90 degrees, where the depth is 0 and only the slope counts.
 */
function sweptOutside({ head, penetration, angleToCupAxis }: SunkenHead): number {
  const radius = head / 2;
  const [sin, cos] = [sinDeg(angleToCupAxis), cosDeg(angleToCupAxis)];
  if (sin === 0) return 0;
  const chordAt = Math.min((penetration * cos) / sin, radius);
  const depth = chordAt * sin;
  const halfChord = Math.sqrt(Math.max(0, radius ** 2 - chordAt ** 2));
  // radius - halfChord, and radius^3 - halfChord^3.
  const drop = chordAt ** 2 / (radius + halfChord);
  const dropOfCubes = drop * (radius ** 2 + radius * halfChord + halfChord ** 2);
  const ofDisc = sin * (radius ** 2 * (chordAt * Math.atan2(halfChord, chordAt) + drop) - dropOfCubes / 3);
  const turn = Math.atan2(sin * cos * drop, radius * cos ** 2 + halfChord * sin ** 2);
  const ofEllipse =
    depth * (radius ** 2 - depth ** 2 / 3) * Math.atan2(halfChord, chordAt * cos) +
    (radius ** 2 * sin * cos * drop) / 3 +
    (2 / 3) * radius ** 3 * turn -
    (sin * cos * dropOfCubes) / 3;
  return ofDisc / cos - ofEllipse;
}
