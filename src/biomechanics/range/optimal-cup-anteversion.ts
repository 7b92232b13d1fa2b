import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import { cupAxis, type CupDefinition, type CupOrientation } from '../orientation/cup-orientation.js';
import { neckAxis, poseInPelvis, type NamedPose, type StemOrientation } from '../motion/pose.js';
import { atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';
import { angleBetween, dot, type Vec3 } from '../vector.js';

/** A hip whose cup inclination is settled and whose anteversion is asked for, with the poses it is to reach. */
export interface AnteversionQuestion<D extends CupDefinition> {
  /** The definition in which inclination is held and anteversion varied. */
  readonly definition: D;
  readonly inclination: Degrees;
  readonly stem: StemOrientation;
  readonly poses: readonly NamedPose[];
}

export interface OptimalCupAnteversion<D extends CupDefinition> {
  readonly cup: CupOrientation<D>;
  /** Greatest angle between cup axis and posed neck axis over the poses; no other anteversion has less. */
  readonly axisAngle: Degrees;
  /** Least oscillation angle with which all poses are reached: twice that. */
  readonly oscillationAngle: Degrees;
  /** The poses that have the greatest angle, in the order of the set; mostly two that pull opposite ways. */
  readonly decidedBy: readonly string[];
}

/** The cosine of the angle between cup axis and a posed neck axis, as cup anteversion A varies. */
interface Wave {
  readonly constant: number;
  /** Factor of cos A. */
  readonly cosine: number;
  /** Factor of sin A. */
  readonly sine: number;
}

/** Where the three values are taken that settle a wave; any angle that is no multiple of 90 would do. */
const PROBE = 60;

/** Cosines that differ by less are equal: rounding of doubles. */
const ROUNDING = 1e-12;

/**
 * The cup anteversion that leaves the least margin over a set of poses as large as it can be.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in the domain of the definition, stem as `neckAxis`, at least one pose; anteversion is looked for
 * in (-90, 90). RangeError outside, and when a limit of that range is better than everything inside.
 * Method: with inclination held, the cup axis moves on a circle, so the cosine of its angle to each posed neck is
 * C + B cos A + S sin A exactly. The greatest of several such angles is least either where one of them is at its own
 * minimum, A = atan2(S, B), or where two are equal, which is one equation of the same form. All those A are tried: no
 * search, no step, and no need for the maximum to be quasi-convex. The optimum does not depend on head or neck size.
 * Source: ours; widmer-2004 and oscillation-2006 couple cup and stem by models of this kind (not read in full).
 * Checked: against a fine grid in three definitions, and beside four published lines and an independent search, in
 * tests/biomechanics/range/optimal-cup-anteversion.test.ts and tests/biomechanics/range/published-anteversion-lines.test.ts.
 * Limits: round neck, flat rim, no bone, no soft tissue: as `impingementMargin`. Best for the set, not a target.
 *
 * @example
 * optimalCupAnteversion({
 *   definition: 'radiographic',
 *   inclination: degrees(40),
 *   stem: { anteversion: degrees(15), neckShaftAngle: degrees(135) },
 *   poses: [
 *     { name: 'flexion', flexion: degrees(110), abduction: degrees(0), externalRotation: degrees(0) },
 *     { name: 'external rotation', flexion: degrees(0), abduction: degrees(0), externalRotation: degrees(40) },
 *   ],
 * })
 * //=> anteversion 17.70, axisAngle 53.96, oscillationAngle 107.93 (degrees, rounded), decidedBy both poses
 */
export function optimalCupAnteversion<D extends CupDefinition>(
  question: AnteversionQuestion<D>,
): OptimalCupAnteversion<D> {
  const { definition, inclination, stem, poses } = question;
  if (poses.length === 0) throw new RangeError('an optimal anteversion needs at least one pose');
  const neck = neckAxis(stem);
  const posed = poses.map((pose) => ({ name: pose.name, neck: poseInPelvis(pose, neck) }));
  const at = (anteversion: Degrees): CupOrientation<D> => ({ definition, inclination, anteversion });
  const waves = posed.map((pose) => waveOf((anteversion) => cupAxis(at(anteversion)), pose.neck));
  const cup = at(bestOf(candidates(waves), waves));
  const axis = cupAxis(cup);
  const angles = posed.map((pose) => ({ name: pose.name, angle: angleBetween(axis, pose.neck) }));
  const axisAngle = degrees(Math.max(...angles.map(({ angle }) => angle)));
  return {
    cup,
    axisAngle,
    oscillationAngle: degrees(2 * axisAngle),
    decidedBy: angles
      .filter(({ angle }) => roundForUnit(angle, 'deg') === roundForUnit(axisAngle, 'deg'))
      .map(({ name }) => name),
  };
}

function waveOf(axisAt: (anteversion: Degrees) => Vec3<'pelvis'>, neck: Vec3<'pelvis'>): Wave {
  const value = (anteversion: number): number => dot(axisAt(degrees(anteversion)), neck);
  const [back, middle, front] = [value(-PROBE), value(0), value(PROBE)];
  const cosine = (middle - (back + front) / 2) / (1 - cosDeg(PROBE));
  return { constant: middle - cosine, cosine, sine: (front - back) / (2 * sinDeg(PROBE)) };
}

/** Every anteversion at which the greatest of the angles may be least. */
function candidates(waves: readonly Wave[]): readonly Degrees[] {
  const nearest = waves.map(({ cosine, sine }) => atan2Deg(sine, cosine));
  const crossings = waves.flatMap((a, index) => waves.slice(index + 1).flatMap((b) => crossingsOf(a, b)));
  return [...nearest, ...crossings].filter((anteversion) => anteversion > -90 && anteversion < 90);
}

function crossingsOf(a: Wave, b: Wave): readonly Degrees[] {
  const [cosine, sine] = [a.cosine - b.cosine, a.sine - b.sine];
  const radius = Math.hypot(cosine, sine);
  const wanted = (b.constant - a.constant) / radius;
  if (radius < ROUNDING || !(Math.abs(wanted) <= 1)) return [];
  const middle = atan2Deg(sine, cosine);
  const spread = atan2Deg(Math.sqrt(1 - wanted * wanted), wanted);
  return [middle - spread, middle + spread].map((angle) => degrees(angle - 360 * Math.round(angle / 360)));
}

/** The least cosine belongs to the greatest angle. */
function leastCosine(anteversion: number, waves: readonly Wave[]): number {
  const [cos, sin] = [cosDeg(anteversion), sinDeg(anteversion)];
  return Math.min(...waves.map(({ constant, cosine, sine }) => constant + cosine * cos + sine * sin));
}

function bestOf(tried: readonly Degrees[], waves: readonly Wave[]): Degrees {
  const limit = Math.max(leastCosine(-90, waves), leastCosine(90, waves));
  let best: { readonly anteversion: Degrees; readonly cosine: number } | undefined;
  for (const anteversion of tried) {
    const cosine = leastCosine(anteversion, waves);
    if (best === undefined || cosine > best.cosine) best = { anteversion, cosine };
  }
  if (best === undefined || best.cosine < limit - ROUNDING) {
    throw new RangeError('the best cup anteversion must lie in (-90, 90) degrees, got a limit of that range');
  }
  return best.anteversion;
}
