import { poseInPelvis, neckAxis, type Pose } from '../motion/pose.js';
import { degrees, type Degrees } from '../../base/units.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { femurVector } from '../vector.js';
import {
  assertSimulation,
  isPossible,
  SETS,
  standardErrors,
  toleranceOfCounts,
  type Placement,
  type PlacementScatter,
  type PlacementTolerance,
} from './placement-tolerance.js';
import type { PosesSimulation } from './placement-tolerance-of-poses.js';
import { NET_POINTS } from './scrambled-net.js';

/** Plans that scatter alike, with one head, neck and liner. */
export type PlansSimulation = Omit<PosesSimulation, 'plan'> & { readonly plans: readonly Placement[] };

/** Half the step margins are reported in: one this little below 0 is reported as 0. */
const HALF_STEP = 5e-7;

/**
 * Placement tolerance of several plans for neck against rim, each under the same simulated errors: what
 * `placementToleranceOfPoses` gives for each of them alone, faster.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; shares of 1 out.
 * Domain: as `placementToleranceOfPoses`.
 * Method: sine and cosine of each error are worked out once for a seed and a scatter; those of plan and error together
 * follow by addition. The same errors for every plan: what two plans differ by then carries less of the sampling error.
 * Source: ours.
 * Checked: equal to `placementToleranceOfPoses` in tests/biomechanics/placement/placement-tolerance-of-plans.test.ts.
 * Limits: as `placementToleranceOfPoses`. The errors of the last seed and scatter are kept.
 *
 * @example
 * placementTolerancesOfPlans({ plans: [plan, reference], scatter, seed: 1, neckShaftAngle, oscillationAngle, poses })
 * //=> shares 0.56 and 0.8478, for 40/5 and 40/20, stem 15, 36 mm head, 12 mm neck, the four poses of oscillation-2001
 */
export function placementTolerancesOfPlans({
  plans,
  ...simulation
}: PlansSimulation): readonly PlacementTolerance[] {
  const { neckShaftAngle, oscillationAngle, poses, scatter, seed } = simulation;
  if (!(oscillationAngle > 0 && oscillationAngle < 360)) {
    throw new RangeError(`oscillation angle must lie in (0, 360) degrees, got ${oscillationAngle}`);
  }
  if (poses.length === 0) throw new RangeError('placement tolerance needs at least one pose');
  const leastCosine = cosDeg(Math.min(180, oscillationAngle / 2 + HALF_STEP));
  const necks = posedNecks(poses, neckShaftAngle);
  const errors = errorsOf(scatter, seed);
  return plans.map((plan) => {
    assertSimulation({ ...simulation, plan });
    return toleranceOfCounts(countsOf(plan, errors, { necks, leastCosine }), seed);
  });
}

/** Errors in degrees, with the sine and cosine of each. */
interface Errors {
  readonly degrees: Float64Array;
  readonly sines: Float64Array;
  readonly cosines: Float64Array;
}

type ErrorsOfAngles = Readonly<Record<keyof Placement, Errors>>;

/** A rulebook has one scatter and one seed: those asked for last are the next ones too. */
let last: { readonly key: string; readonly errors: ErrorsOfAngles } | undefined;

function errorsOf(scatter: PlacementScatter, seed: number): ErrorsOfAngles {
  const key = [seed, scatter.inclination, scatter.anteversion, scatter.stemAnteversion].join(' ');
  if (last?.key === key) return last.errors;
  const standard = standardErrors(seed);
  const errors = {
    inclination: scaled(standard.inclination, scatter.inclination),
    anteversion: scaled(standard.anteversion, scatter.anteversion),
    stemAnteversion: scaled(standard.stemAnteversion, scatter.stemAnteversion),
  };
  last = { key, errors };
  return errors;
}

function scaled(standard: Float64Array, deviation: Degrees): Errors {
  const errors = standard.map((error) => deviation * error);
  return {
    degrees: errors,
    sines: errors.map((error) => sinDeg(degrees(error))),
    cosines: errors.map((error) => cosDeg(degrees(error))),
  };
}

/** Nine numbers a pose: the parts of its neck axis that are fixed, go with the cosine and with the sine of stem version. */
const PARTS = 9;

function posedNecks(poses: readonly Pose[], neckShaftAngle: Degrees): Float64Array {
  const [, down, out] = neckAxis({ anteversion: degrees(0), neckShaftAngle });
  return Float64Array.from(
    poses.flatMap((pose) => [
      ...poseInPelvis(pose, femurVector(0, down, 0)),
      ...poseInPelvis(pose, femurVector(0, 0, out)),
      ...poseInPelvis(pose, femurVector(-out, 0, 0)),
    ]),
  );
}

interface Asked {
  readonly necks: Float64Array;
  readonly leastCosine: number;
}

/**
 * Placements reached in each set. Ten thousand are asked for of every plan, so there is nothing in here but numbers, and
 * no function of its own but the reading of a list.
 */
function countsOf(plan: Placement, errors: ErrorsOfAngles, { necks, leastCosine }: Asked): readonly number[] {
  const { inclination: tilted, anteversion: turned, stemAnteversion: stem } = errors;
  const sinI = sinDeg(plan.inclination);
  const cosI = cosDeg(plan.inclination);
  const sinA = sinDeg(plan.anteversion);
  const cosA = cosDeg(plan.anteversion);
  const sinS = sinDeg(plan.stemAnteversion);
  const cosS = cosDeg(plan.stemAnteversion);
  const counts = new Array<number>(SETS).fill(0);
  for (let at = 0; at < SETS * NET_POINTS; at += 1) {
    const across = cosA * valueAt(turned.cosines, at) - sinA * valueAt(turned.sines, at);
    const x = sinA * valueAt(turned.cosines, at) + cosA * valueAt(turned.sines, at);
    const y = -across * (cosI * valueAt(tilted.cosines, at) - sinI * valueAt(tilted.sines, at));
    const z = across * (sinI * valueAt(tilted.cosines, at) + cosI * valueAt(tilted.sines, at));
    const cos = cosS * valueAt(stem.cosines, at) - sinS * valueAt(stem.sines, at);
    const sin = sinS * valueAt(stem.cosines, at) + cosS * valueAt(stem.sines, at);
    let least = Infinity;
    for (let n = 0; n < necks.length && least >= leastCosine; n += PARTS) {
      least =
        x * (valueAt(necks, n) + cos * valueAt(necks, n + 3) + sin * valueAt(necks, n + 6)) +
        y * (valueAt(necks, n + 1) + cos * valueAt(necks, n + 4) + sin * valueAt(necks, n + 7)) +
        z * (valueAt(necks, n + 2) + cos * valueAt(necks, n + 5) + sin * valueAt(necks, n + 8));
    }
    if (least < leastCosine || !isPossibleAt(plan, errors, at)) continue;
    const set = Math.floor(at / NET_POINTS);
    counts[set] = (counts[set] ?? 0) + 1;
  }
  return counts;
}

function isPossibleAt(plan: Placement, errors: ErrorsOfAngles, at: number): boolean {
  return isPossible(
    plan.inclination + valueAt(errors.inclination.degrees, at),
    plan.anteversion + valueAt(errors.anteversion.degrees, at),
    plan.stemAnteversion + valueAt(errors.stemAnteversion.degrees, at),
  );
}

function valueAt(values: Float64Array, at: number): number {
  return values[at] ?? NaN;
}
