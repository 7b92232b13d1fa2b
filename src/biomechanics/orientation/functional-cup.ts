import { degrees, type Degrees } from '../../base/units.js';
import { cupAxis, cupOrientationFromAxis, type CupOrientation } from './cup-orientation.js';
import { rotateZ } from '../vector.js';

/** The pelvis as the cup was read, and as it is to be seen; both as tilt of the anterior pelvic plane, anterior positive. */
export interface PostureChange {
  /** Tilt of the pelvis on the film the angles were read on; 0 for angles that refer to the anterior pelvic plane. */
  readonly referenceTilt: Degrees;
  /** Tilt of the pelvis in the posture asked about. */
  readonly postureTilt: Degrees;
}

/**
 * Functional orientation: a cup fixed in the pelvis, restated as a film taken in another posture would show it.
 *
 * Frame: in, the frame of the film or plane the angles refer to; out, that of the other posture. Both as the pelvis
 * frame (X anterior, Y cranial, Z lateral) of an upright pelvis; they differ by a turn about Z.
 * Units: degrees in, degrees out; tilt anterior positive. Sources that state posterior tilt positive: change the sign.
 * Domain: inclination in (0, 180), anteversion in (-90, 90), any finite tilt; RangeError outside. The result has the
 * same domain: functional inclination may exceed 90.
 * Method: a' = Rz(T - P) a, with T the reference tilt and P the posture's: Rz(T) takes the film's axis into the pelvis,
 * Rz(-P) takes it into the posture. So only the difference of tilts matters, and for an angle against the anterior
 * pelvic plane (T = 0) the tilt itself. Operative inclination stays, operative anteversion falls by exactly P - T. Per
 * degree of P: dRA = -cos RI, dRI = -sin RI tan RA.
 * Source: ours; murray-1993 for the definitions (abstract read).
 * Checked: closed forms, slopes, round trips, three's quaternions, and published means of vorimore-2024 (reproduced),
 * and of two groups sitting down (one reproduced, one not) in tests/biomechanics/orientation/functional-cup.test.ts.
 * Limits: tilt about the transverse axis only, no obliquity or rotation of the pelvis; parallel beam.
 *
 * @example
 * functionalCupOrientation(
 *   { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(25) },
 *   { referenceTilt: degrees(0), postureTilt: degrees(-22) },
 * )
 * //=> inclination 50.20, anteversion 40.69 (degrees, rounded)
 */
export function functionalCupOrientation(
  cup: CupOrientation<'radiographic'>,
  { referenceTilt, postureTilt }: PostureChange,
): CupOrientation<'radiographic'> {
  const axis = rotateZ(degrees(referenceTilt - postureTilt), cupAxis(cup));
  return cupOrientationFromAxis(axis, 'radiographic');
}
