import { degrees, type Degrees } from '../../base/units.js';
import {
  toleranceByAngles,
  type PlacementSimulation,
  type PlacementTolerance,
} from './placement-tolerance.js';
import { neckAxis, poseInPelvis, type Pose } from '../motion/pose.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { femurVector, type Vec3 } from '../vector.js';

/** Test positions of a hip with round neck and flat rim, and how cup and stem scatter about their plan. */
export interface PosesSimulation extends PlacementSimulation {
  readonly neckShaftAngle: Degrees;
  /** Full oscillation angle, the same in every direction. */
  readonly oscillationAngle: Degrees;
  readonly poses: readonly Pose[];
}

/** A posed neck axis is the sum of these: the first, cos(stem anteversion) of the second, sin of the third. */
interface PosedNeck {
  readonly axial: Vec3<'pelvis'>;
  readonly lateral: Vec3<'pelvis'>;
  readonly posterior: Vec3<'pelvis'>;
}

/** Half the step margins are reported in: one this little below 0 is reported as 0. */
const HALF_STEP = 5e-7;

function posedNeck(pose: Pose, neckShaftAngle: Degrees): PosedNeck {
  const [, down, out] = neckAxis({ anteversion: degrees(0), neckShaftAngle });
  return {
    axial: poseInPelvis(pose, femurVector(0, down, 0)),
    lateral: poseInPelvis(pose, femurVector(0, 0, out)),
    posterior: poseInPelvis(pose, femurVector(-out, 0, 0)),
  };
}

/**
 * Placement tolerance for neck against rim: the share of simulated placements whose impingement margin is not negative
 * in any of the poses.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; shares of 1 out.
 * Domain: as `placementTolerance`; oscillation angle in (0, 360), neck-shaft angle in (90, 180), at least one pose;
 * RangeError outside.
 * Method: a pose is reached when cup axis . posed neck axis >= cos(half the oscillation angle). The posed neck axis is
 * linear in cosine and sine of stem anteversion, so its parts are worked out once for each pose. Margins count as they
 * are reported, rounded to 1e-6 degrees, and contact itself counts as reached.
 * Source: ours.
 * Checked: the same counts as `placementTolerance` with `worstImpingementMargin` in
 * tests/biomechanics/placement/placement-tolerance-of-poses.test.ts.
 * Limits: as `placementTolerance` and `impingementMargin`.
 *
 * @example
 * placementToleranceOfPoses({
 *   plan: { inclination: degrees(40), anteversion: degrees(20), stemAnteversion: degrees(15) },
 *   scatter: { inclination: degrees(6.7), anteversion: degrees(8.1), stemAnteversion: degrees(7.4) },
 *   seed: 1,
 *   neckShaftAngle: degrees(135),
 *   oscillationAngle: oscillationAngle({ head: millimetres(28), neck: millimetres(12), centerOffset: millimetres(0) }),
 *   poses: [{ flexion: degrees(110), abduction: degrees(0), externalRotation: degrees(0) }],
 * })
 * //=> share 0.9237, low 0.9225, high 0.9249 (rounded), points 10000, seed 1
 */
export function placementToleranceOfPoses(simulation: PosesSimulation): PlacementTolerance {
  const { neckShaftAngle, oscillationAngle, poses } = simulation;
  if (!(oscillationAngle > 0 && oscillationAngle < 360)) {
    throw new RangeError(`oscillation angle must lie in (0, 360) degrees, got ${oscillationAngle}`);
  }
  if (poses.length === 0) throw new RangeError('placement tolerance needs at least one pose');
  const leastCosine = cosDeg(Math.min(180, oscillationAngle / 2 + HALF_STEP));
  const necks = poses.map((pose) => posedNeck(pose, neckShaftAngle));
  return toleranceByAngles(simulation, (inclination, anteversion, stemAnteversion) => {
    // The components of `cupAxis`, without an object for each of 10,000 placements.
    const x = sinDeg(anteversion);
    const y = -cosDeg(anteversion) * cosDeg(inclination);
    const z = cosDeg(anteversion) * sinDeg(inclination);
    const cos = cosDeg(stemAnteversion);
    const sin = sinDeg(stemAnteversion);
    for (const { axial, lateral, posterior } of necks) {
      const cosine =
        x * (axial[0] + cos * lateral[0] + sin * posterior[0]) +
        y * (axial[1] + cos * lateral[1] + sin * posterior[1]) +
        z * (axial[2] + cos * lateral[2] + sin * posterior[2]);
      if (cosine < leastCosine) return false;
    }
    return true;
  });
}
