import { millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { asinDeg, sinDeg } from '../trigonometry.js';

/** What the superior jump distance depends on. */
export interface JumpDistanceInput {
  /** Head diameter; of the mobile liner in a dual mobility bearing. */
  readonly head: Millimetres;
  /** Cup inclination in the radiographic definition, and in no other. */
  readonly radiographicInclination: Degrees;
  /** Head center against the liner's opening plane; positive outside, negative inset. */
  readonly centerOffset: Millimetres;
}

/**
 * Superior jump distance: how far the head center must move before the head leaves an unworn cup over its
 * superolateral rim.
 *
 * Frame: frontal plane of the pelvis, load vertical.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: head positive, radiographic inclination in [0, 180), center offset smaller than the head radius in size;
 * RangeError outside. From 90 - RI - asin(O/R) <= 0 on (functional inclination of about 90 and beyond) the rim no longer
 * holds the head and the distance is 0.
 * Method: 2 R sin((90 - RI - asin(O/R)) / 2), R head radius, O center offset. The published planar inclination
 * atan(tan AI cos AA) of anatomic angles is the radiographic inclination, so there is nothing left to convert.
 * Source: sariali-2009 for the definition, the planar inclination and five sensitivities (abstract and captions read);
 * its equation is recalled and re-derived.
 * Checked: the five published sensitivities on anatomic input and derived tables in
 * tests/biomechanics/stability/jump-distance.test.ts.
 * Limits: superolateral escape only; at constant radiographic inclination it does not change with anteversion, and it
 * says nothing about anterior or posterior escape. Undefined for a worn liner.
 *
 * @example
 * jumpDistance({ head: millimetres(36), radiographicInclination: degrees(40), centerOffset: millimetres(0) })
 * //=> 15.21 (mm, rounded)
 */
export function jumpDistance({
  head,
  radiographicInclination,
  centerOffset,
}: JumpDistanceInput): Millimetres {
  if (!(head > 0)) throw new RangeError(`head diameter must be positive, got ${head} mm`);
  const radius = head / 2;
  if (!(Math.abs(centerOffset) < radius)) {
    throw new RangeError(
      `center offset must be smaller than the head radius ${radius} mm, got ${centerOffset} mm`,
    );
  }
  if (!(radiographicInclination >= 0 && radiographicInclination < 180)) {
    throw new RangeError(
      `radiographic inclination must lie in [0, 180) degrees, got ${radiographicInclination}`,
    );
  }
  const arc = 90 - radiographicInclination - asinDeg(centerOffset / radius);
  return millimetres(arc <= 0 ? 0 : 2 * radius * sinDeg(arc / 2));
}
