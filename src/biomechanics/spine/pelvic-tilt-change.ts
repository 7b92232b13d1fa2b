import { degrees, type Degrees } from '../../base/units.js';

/** Tilt of one pelvis twice: on the film or plane that cup angles refer to, and in another posture. */
export interface TiltInPosture {
  readonly reference: Degrees;
  readonly posture: Degrees;
}

/**
 * Change of pelvic tilt: how far the pelvis turns from the film or plane the cup angles refer to, to a posture.
 *
 * Frame: sagittal plane; tilt of the anterior pelvic plane, anterior positive.
 * Units: degrees in, degrees out; negative when the pelvis rolls back.
 * Domain: finite angles.
 * Method: posture - reference; for angles against the anterior pelvic plane the reference is 0 and the tilt itself is left.
 * Source: ours; pelvic-motion-2018 for what such a change is compared with.
 * Checked: against functional-cup.ts, whose operative anteversion falls by exactly this, in
 * tests/biomechanics/spine/pelvic-tilt-change.test.ts.
 * Limits: obliquity and rotation of the pelvis are left out.
 *
 * @example
 * pelvicTiltChange({ reference: degrees(0), posture: degrees(-22) })
 * //=> -22 (degrees)
 */
export function pelvicTiltChange({ reference, posture }: TiltInPosture): Degrees {
  return degrees(posture - reference);
}
