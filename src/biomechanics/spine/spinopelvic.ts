import { degrees, type Degrees } from '../../base/units.js';

/**
 * The angles by which the turn of a pelvis between two postures can be read. Sacral slope and anterior-pelvic-plane
 * tilt fall as the pelvis rolls back; spinopelvic tilt (posterior positive) grows.
 */
export type PelvicAngle = 'sacral-slope' | 'spinopelvic-tilt' | 'app-tilt';

/** One pelvic angle in two postures. */
export interface PelvicAngles {
  readonly angle: PelvicAngle;
  readonly standing: Degrees;
  readonly seated: Degrees;
}

/**
 * Spinopelvic mobility: how far the pelvis rolls back from standing to sitting.
 *
 * Frame: sagittal plane. Sacral slope against the horizontal; spinopelvic tilt posterior positive (the one in
 * PI = PT + SS); tilt of the anterior pelvic plane anterior positive.
 * Units: degrees in, degrees out; positive when the pelvis rolls back on sitting down.
 * Domain: finite angles.
 * Method: sacral slope or anterior-plane tilt: standing - seated; spinopelvic tilt: seated - standing. The pelvis is
 * rigid and PI = PT + SS stays, so all three change by the same amount.
 * Source: vigdorchik-2021 for the change of sacral slope, blondel-2012 for the identity (read in its
 * introduction); that the anterior plane turns alike is rigid geometry, ours.
 * Checked: worked examples and the published mean changes of one cohort (slope 22.2, tilt 22.3 degrees) in
 * tests/biomechanics/spine/spinopelvic.test.ts.
 * Limits: a small change is no proof of a stiff spine: a stiff hip or a habit of sitting makes one too.
 *
 * @example
 * spinopelvicMobility({ angle: 'sacral-slope', standing: degrees(40), seated: degrees(20) })
 * //=> 20 (degrees)
 */
export function spinopelvicMobility({ angle, standing, seated }: PelvicAngles): Degrees {
  switch (angle) {
    case 'sacral-slope':
    case 'app-tilt':
      return degrees(standing - seated);
    case 'spinopelvic-tilt':
      return degrees(seated - standing);
    default:
      return angle satisfies never;
  }
}

/**
 * Lumbar flexion: how much lordosis is given up between standing and bending forward on a seat.
 *
 * Frame: sagittal plane; lordosis L1-S1, kyphosis negative.
 * Units: degrees in, degrees out; positive when the spine flexes.
 * Domain: finite angles.
 * Method: lordosis standing - lordosis flexed-seated.
 * Source: ours; the difference in the name.
 * Checked: closed forms in tests/biomechanics/spine/spinopelvic.test.ts.
 * Limits: relaxed sitting is another posture and gives another, smaller number.
 *
 * @example
 * lumbarFlexion({ standing: degrees(55), flexedSeated: degrees(10) })
 * //=> 45 (degrees)
 */
export function lumbarFlexion({
  standing,
  flexedSeated,
}: {
  readonly standing: Degrees;
  readonly flexedSeated: Degrees;
}): Degrees {
  return degrees(standing - flexedSeated);
}

/**
 * Mismatch of pelvic incidence and lumbar lordosis; positive when there is less lordosis than the pelvis asks for.
 *
 * Frame: sagittal plane, standing; lordosis L1-S1, kyphosis negative.
 * Units: degrees in, degrees out.
 * Domain: finite angles.
 * Method: PI - LL.
 * Source: buckland-2019 and vigdorchik-2021 (abstracts read).
 * Checked: two worked examples in tests/biomechanics/spine/spinopelvic.test.ts.
 * Limits: alignment of the standing spine; says nothing about how it moves.
 *
 * @example
 * pelvicIncidenceLordosisMismatch({ pelvicIncidence: degrees(55), lumbarLordosis: degrees(40) })
 * //=> 15 (degrees)
 */
export function pelvicIncidenceLordosisMismatch({
  pelvicIncidence,
  lumbarLordosis,
}: {
  readonly pelvicIncidence: Degrees;
  readonly lumbarLordosis: Degrees;
}): Degrees {
  return degrees(pelvicIncidence - lumbarLordosis);
}

/** The three angles of one pelvis in one posture. */
export interface PelvicTriple {
  readonly pelvicIncidence: Degrees;
  /** Spinopelvic tilt, posterior positive; never the tilt of the anterior pelvic plane. */
  readonly spinopelvicTilt: Degrees;
  readonly sacralSlope: Degrees;
}

/**
 * How far three measured angles miss the identity PI = PT + SS; 0 when they fit one pelvis in one posture.
 *
 * Frame: sagittal plane, one posture.
 * Units: degrees in, degrees out; positive when incidence exceeds the sum.
 * Domain: finite angles.
 * Method: PI - (PT + SS).
 * Source: blondel-2012 for the identity (read in its introduction).
 * Checked: a worked example, and one pelvis in every posture, in tests/biomechanics/spine/spinopelvic.test.ts.
 * Limits: a residual shows that one of three readings is off, not which.
 *
 * @example
 * pelvicIncidenceResidual({
 *   pelvicIncidence: degrees(53),
 *   spinopelvicTilt: degrees(13),
 *   sacralSlope: degrees(40),
 * })
 * //=> 0 (degrees)
 */
export function pelvicIncidenceResidual({
  pelvicIncidence,
  spinopelvicTilt,
  sacralSlope,
}: PelvicTriple): Degrees {
  return degrees(pelvicIncidence - (spinopelvicTilt + sacralSlope));
}
