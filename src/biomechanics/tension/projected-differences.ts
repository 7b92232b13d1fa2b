import { millimetres, type Millimetres } from '../../base/units.js';

/**
 * Leg-length discrepancy a plan leads to, both legs compared.
 *
 * Frame: none; operated minus opposite leg, the operated leg longer positive.
 * Units: millimetres in, millimetres out.
 * Domain: finite lengths.
 * Method: native discrepancy + planned change. A leg 18 mm short that is lengthened by 16 mm ends 2 mm short.
 * Source: ours; the definition of a difference.
 * Checked: closed forms in tests/biomechanics/tension/projected-differences.test.ts.
 * Limits: takes the opposite leg as it is; a contracture or a tilted pelvis makes a leg seem longer or shorter.
 *
 * @example
 * projectedLegLengthDiscrepancy({ native: millimetres(-18), change: millimetres(16) })
 * //=> -2 (mm)
 */
export function projectedLegLengthDiscrepancy({
  native,
  change,
}: {
  readonly native: Millimetres;
  readonly change: Millimetres;
}): Millimetres {
  return millimetres(native + change);
}

/** Global offset before surgery, and what a plan changes on either side of the joint. */
export interface GlobalOffsetPlan {
  /** Global offset before surgery, operated minus opposite side. */
  readonly native: Millimetres;
  readonly femoralOffsetChange: Millimetres;
  /** How far the joint's center moves toward the midline. */
  readonly centerMedialization: Millimetres;
}

/**
 * Global-offset difference a plan leads to, both hips compared.
 *
 * Frame: frontal plane; operated minus opposite side. More offset and medial are positive.
 * Units: millimetres in, millimetres out.
 * Domain: finite lengths.
 * Method: global offset is femoral offset (center to shaft axis) plus acetabular offset (center to midline). A center
 * moved medially by m takes m from the acetabular part: native difference + femoral change - m.
 * Source: global-offset-2020 for the two parts (read in a paper that cites it); the sum is ours.
 * Checked: closed forms and the published means of one series (medialized 5.3 mm, femoral offset up 6.1 mm) in
 * tests/biomechanics/tension/projected-differences.test.ts.
 * Limits: frontal projection; femoral offset seen on a film falls short in external rotation.
 *
 * @example
 * projectedGlobalOffsetDifference({
 *   native: millimetres(0),
 *   femoralOffsetChange: millimetres(2),
 *   centerMedialization: millimetres(8),
 * })
 * //=> -6 (mm)
 */
export function projectedGlobalOffsetDifference({
  native,
  femoralOffsetChange,
  centerMedialization,
}: GlobalOffsetPlan): Millimetres {
  return millimetres(native + femoralOffsetChange - centerMedialization);
}
