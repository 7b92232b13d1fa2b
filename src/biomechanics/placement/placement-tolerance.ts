import { degrees, type Degrees } from '../../base/units.js';
import { normalQuantile } from './normal-quantile.js';
import { NET_POINTS, scrambledNet } from './scrambled-net.js';

/** How cup and stem end up; the cup in the radiographic definition. */
export interface Placement {
  readonly inclination: Degrees;
  readonly anteversion: Degrees;
  readonly stemAnteversion: Degrees;
}

/** Standard deviations of the placement about the plan; independent of each other. */
export type PlacementScatter = Readonly<Record<keyof Placement, Degrees>>;

/** What is simulated: a plan, how far placements scatter about it, and the seed of the random numbers. */
export interface PlacementSimulation {
  readonly plan: Placement;
  readonly scatter: PlacementScatter;
  /** Integer in [0, 2^32). */
  readonly seed: number;
}

/** The share of simulated placements that reach every pose, with its 95 % interval; shares lie in [0, 1]. */
export interface PlacementTolerance {
  readonly share: number;
  readonly low: number;
  readonly high: number;
  /** Placements simulated. */
  readonly points: number;
  readonly seed: number;
}

/** A placement as bare degrees, for the innermost loop. */
type ReachesAngles = (inclination: number, anteversion: number, stemAnteversion: number) => boolean;

/** Independently scrambled sets of points. */
export const SETS = 16;
const POINTS = SETS * NET_POINTS;

const ROOT_2 = Math.sqrt(2);
const ROOT_3 = Math.sqrt(3);
const ROOT_6 = Math.sqrt(6);

/** Two-sided 95 % quantile of Student's t with 15 degrees of freedom; printed as 2.131 in the common t tables. */
const T_QUANTILE = 2.131449546;

/**
 * 1 - 0.025^(1/10,000): the exact binomial 97.5 % bound on a share that 10,000 independent placements never met. The
 * interval is never narrower than this to either side, since sets that agree by chance have no spread to judge by.
 */
const LEAST_HALF_WIDTH = 0.00036882;

/**
 * Placement tolerance: the share of simulated placements, scattered about a plan, that reach every test position.
 *
 * Frame: none; the question itself is the caller's.
 * Units: degrees in; shares of 1 out.
 * Domain: plan with inclination in (0, 180), anteversion and stem anteversion in (-90, 90); scatter in [0, 90]; seed an
 * integer in [0, 2^32); RangeError outside. A simulated placement outside the plan's domain counts as not reached.
 * Method: 16 independently scrambled nets of 625 points; normal quantiles a, b, c of a point's coordinates give the errors
 * a/sqrt 3 + b/sqrt 2 + c/sqrt 6, a/sqrt 3 - b/sqrt 2 + c/sqrt 6, a/sqrt 3 - 2c/sqrt 6 of inclination, anteversion and
 * stem anteversion in standard deviations. Turned like this they are as independent and normal as before; but more of
 * each opens the front of the joint and closes its back, so contact depends mostly on their sum, and a net does best
 * where a question lies along one of its axes. The share is the mean of the sets' shares; the interval is Student's t
 * over the 16 sets (15 degrees of freedom), clamped to [0, 1] and never narrower to either side than the exact binomial
 * bound for no event in 10,000.
 * Source: ours.
 * Checked: shares known in closed form and limit cases in tests/biomechanics/placement/placement-tolerance.test.ts; coverage and
 * error against plain sampling of four million placements in tests/biomechanics/placement/placement-tolerance-of-poses.test.ts.
 * Limits: a share of placements, not a chance of staying stable. Independent normal errors without bias. With only a few
 * placements on one side (share below 0.001 or above 0.999) the interval is rough.
 *
 * @example
 * placementTolerance({
 *   plan: { inclination: degrees(40), anteversion: degrees(20), stemAnteversion: degrees(15) },
 *   scatter: { inclination: degrees(6.7), anteversion: degrees(8.1), stemAnteversion: degrees(7.4) },
 *   seed: 1,
 *   reaches: ({ anteversion }) => anteversion > 20,
 * })
 * //=> share 0.5003, low 0.4964, high 0.5042 (rounded), points 10000, seed 1
 */
export function placementTolerance({
  reaches,
  ...simulation
}: PlacementSimulation & { readonly reaches: (placement: Placement) => boolean }): PlacementTolerance {
  return toleranceByAngles(simulation, (inclination, anteversion, stemAnteversion) =>
    reaches({
      inclination: degrees(inclination),
      anteversion: degrees(anteversion),
      stemAnteversion: degrees(stemAnteversion),
    }),
  );
}

/** As `placementTolerance`, without an object for each placement; angles are within their domain when asked. */
export function toleranceByAngles(
  simulation: PlacementSimulation,
  reaches: ReachesAngles,
): PlacementTolerance {
  assertSimulation(simulation);
  const { plan, scatter, seed } = simulation;
  const errors = standardErrors(seed);
  const reached = Array.from({ length: SETS }, (_, set) => {
    let count = 0;
    for (let at = set * NET_POINTS; at < (set + 1) * NET_POINTS; at += 1) {
      const inclination = plan.inclination + scatter.inclination * (errors.inclination[at] ?? NaN);
      const anteversion = plan.anteversion + scatter.anteversion * (errors.anteversion[at] ?? NaN);
      const stemAnteversion =
        plan.stemAnteversion + scatter.stemAnteversion * (errors.stemAnteversion[at] ?? NaN);
      const possible = isPossible(inclination, anteversion, stemAnteversion);
      if (possible && reaches(inclination, anteversion, stemAnteversion)) count += 1;
    }
    return count;
  });
  return toleranceOfCounts(reached, seed);
}

/** Share and interval of the placements reached in each set. */
export function toleranceOfCounts(reached: readonly number[], seed: number): PlacementTolerance {
  return { ...shareWithInterval(reached), points: POINTS, seed };
}

/** Errors of each simulated placement, set after set, in standard deviations. */
export function standardErrors(seed: number): Readonly<Record<keyof Placement, Float64Array>> {
  const errors = {
    inclination: new Float64Array(POINTS),
    anteversion: new Float64Array(POINTS),
    stemAnteversion: new Float64Array(POINTS),
  };
  for (let set = 0; set < SETS; set += 1) {
    for (const [index, [first, second, third]] of scrambledNet(seed, set).entries()) {
      const sum = normalQuantile(first) / ROOT_3;
      const difference = normalQuantile(second) / ROOT_2;
      const rest = normalQuantile(third) / ROOT_6;
      const at = set * NET_POINTS + index;
      errors.inclination[at] = sum + difference + rest;
      errors.anteversion[at] = sum - difference + rest;
      errors.stemAnteversion[at] = sum - 2 * rest;
    }
  }
  return errors;
}

/** Whole numbers up to the one square root, so that the same counts give the same bits everywhere. */
function shareWithInterval(reached: readonly number[]): Pick<PlacementTolerance, 'share' | 'low' | 'high'> {
  const sum = reached.reduce((total, count) => total + count, 0);
  const squares = reached.reduce((total, count) => total + count * count, 0);
  const share = sum / POINTS;
  // The standard error of the mean of 16: sqrt(sum of squared deviations / (16 * 15)).
  const standardError = Math.sqrt((SETS * squares - sum * sum) / (SETS * SETS * (SETS - 1))) / NET_POINTS;
  const halfWidth = Math.max(T_QUANTILE * standardError, LEAST_HALF_WIDTH);
  return { share, low: Math.max(0, share - halfWidth), high: Math.min(1, share + halfWidth) };
}

/** Whether a cup and a stem can stand like this at all; what can't counts as not reached. */
export function isPossible(inclination: number, anteversion: number, stemAnteversion: number): boolean {
  return inclination > 0 && inclination < 180 && Math.abs(anteversion) < 90 && Math.abs(stemAnteversion) < 90;
}

export function assertSimulation({ plan, scatter }: PlacementSimulation): void {
  if (!isPossible(plan.inclination, plan.anteversion, plan.stemAnteversion)) {
    throw new RangeError(
      `a plan must have inclination in (0, 180), anteversion and stem anteversion in (-90, 90) degrees, got ` +
        `${plan.inclination}, ${plan.anteversion}, ${plan.stemAnteversion}`,
    );
  }
  for (const [angle, deviation] of Object.entries(scatter)) {
    if (!(deviation >= 0 && deviation <= 90)) {
      throw new RangeError(`scatter of ${angle} must lie in [0, 90] degrees, got ${deviation}`);
    }
  }
}
