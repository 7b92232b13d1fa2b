import type { Degrees } from '../../base/units.js';
import {
  assertCupAngle,
  cupOrientationFromAxis,
  type CupDefinition,
  type CupOrientation,
} from './cup-orientation.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { normalise, pelvisVector, type Vec3 } from '../vector.js';

/** One cup angle as a source states it, with the definition that angle alone is stated in. */
export interface StatedCupAngle {
  readonly definition: CupDefinition;
  readonly value: Degrees;
}

/** An inclination and an anteversion whose definitions may differ, as papers and templates often print them. */
export interface StatedCupAngles {
  readonly inclination: StatedCupAngle;
  readonly anteversion: StatedCupAngle;
}

/** Why two stated angles describe no cup: no axis has both, or infinitely many have. */
export interface NoCupAxis {
  readonly kind: 'none';
  readonly why: 'no-such-axis' | 'undetermined';
}

export type CupAxisOutcome = { readonly kind: 'axis'; readonly axis: Vec3<'pelvis'> } | NoCupAxis;

export type RadiographicOutcome =
  { readonly kind: 'orientation'; readonly orientation: CupOrientation<'radiographic'> } | NoCupAxis;

/** Squares and cosines this close to zero are zero: rounding of doubles, far below any angle that can be measured. */
const ROUNDING = 1e-12;

const NO_SUCH_AXIS: NoCupAxis = { kind: 'none', why: 'no-such-axis' };
const UNDETERMINED: NoCupAxis = { kind: 'none', why: 'undetermined' };

/** The axis along (x, -u, z), where u points caudally; none when it would not open laterally. */
function axisAlong(x: number, u: number, z: number): CupAxisOutcome {
  if (!(z > 0)) return NO_SUCH_AXIS;
  return { kind: 'axis', axis: normalise(pelvisVector(x, -u, z)) };
}

/** Square root of a square that rounding may have pushed just below zero; undefined when it is truly negative. */
function rootOf(square: number): number | undefined {
  return square < -ROUNDING ? undefined : Math.sqrt(Math.max(0, square));
}

/**
 * Radiographic or anatomic inclination fixes the sign of u, and so does operative anteversion. None when they
 * contradict each other, undetermined when both say u = 0, undefined when they agree.
 */
function disagreementAboutCaudal(cosInclination: number, cosAnteversion: number): NoCupAxis | undefined {
  const flatInclination = Math.abs(cosInclination) < ROUNDING;
  const flatAnteversion = Math.abs(cosAnteversion) < ROUNDING;
  if (flatInclination && flatAnteversion) return UNDETERMINED;
  if (flatAnteversion) return NO_SUCH_AXIS;
  return !flatInclination && cosInclination * cosAnteversion < 0 ? NO_SUCH_AXIS : undefined;
}

type Solver = (inclination: Degrees, anteversion: Degrees) => CupAxisOutcome;

/** Keys are `inclination definition/anteversion definition`; equations in the doc block of `cupAxisFromStatedAngles`. */
const SOLVERS: Readonly<Record<`${CupDefinition}/${CupDefinition}`, Solver>> = {
  'radiographic/radiographic': (ri, ra) =>
    axisAlong(sinDeg(ra), cosDeg(ra) * cosDeg(ri), cosDeg(ra) * sinDeg(ri)),
  'operative/operative': (oi, oa) => axisAlong(cosDeg(oi) * sinDeg(oa), cosDeg(oi) * cosDeg(oa), sinDeg(oi)),
  'anatomic/anatomic': (ai, aa) => axisAlong(sinDeg(ai) * sinDeg(aa), cosDeg(ai), sinDeg(ai) * cosDeg(aa)),

  'radiographic/anatomic': (ri, aa) =>
    axisAlong(sinDeg(ri) * sinDeg(aa), cosDeg(ri) * cosDeg(aa), sinDeg(ri) * cosDeg(aa)),

  'radiographic/operative': (ri, oa) => {
    const side = Math.sign(cosDeg(oa));
    return (
      disagreementAboutCaudal(cosDeg(ri), cosDeg(oa)) ??
      axisAlong(
        side * cosDeg(ri) * sinDeg(oa),
        side * cosDeg(ri) * cosDeg(oa),
        side * sinDeg(ri) * cosDeg(oa),
      )
    );
  },

  'operative/radiographic': (oi, ra) => {
    const u = rootOf(cosDeg(oi + ra) * cosDeg(oi - ra));
    return u === undefined ? NO_SUCH_AXIS : axisAlong(sinDeg(ra), u, sinDeg(oi));
  },

  'operative/anatomic': (oi, aa) => {
    const u = rootOf(cosDeg(oi + aa) * cosDeg(oi - aa));
    return u === undefined ? NO_SUCH_AXIS : axisAlong(sinDeg(oi) * sinDeg(aa), u, sinDeg(oi) * cosDeg(aa));
  },

  'anatomic/radiographic': (ai, ra) => {
    const z = rootOf(sinDeg(ai + ra) * sinDeg(ai - ra));
    return z === undefined ? NO_SUCH_AXIS : axisAlong(sinDeg(ra), cosDeg(ai), z);
  },

  'anatomic/operative': (ai, oa) => {
    const side = Math.sign(cosDeg(oa));
    const z = rootOf(sinDeg(ai + oa) * sinDeg(ai - oa));
    return (
      disagreementAboutCaudal(cosDeg(ai), cosDeg(oa)) ??
      (z === undefined
        ? NO_SUCH_AXIS
        : axisAlong(side * cosDeg(ai) * sinDeg(oa), side * cosDeg(ai) * cosDeg(oa), z))
    );
  },
};

/**
 * The cup axis that has a stated inclination and a stated anteversion, each in its own definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; a unit vector without unit out.
 * Domain: each angle in the domain of its definition (see `cupAxis`), RangeError outside. Two angles that are possible
 * alone but not together are outside data, not a mistake of the caller: the result is `none` with a reason. No axis
 * exists for operative inclination with radiographic or anatomic anteversion of size above 90 - OI (for the
 * radiographic one: sin^2 OI + sin^2 RA > 1); for anatomic inclination with radiographic or operative anteversion that
 * leaves z^2 <= 0; and where inclination and operative anteversion put the opening on different sides of horizontal.
 * Inclination 90 with operative anteversion of size 90 fits a whole circle of axes: `undetermined`.
 * Method: with a = (x, y, z), u = -y: tan RI = z/u, sin OI = z, cos AI = u; sin RA = x, tan OA = x/u, tan AA = x/z.
 * One definition for both: as `cupAxis`. RI with AA: a along (sin RI sin AA, -cos RI cos AA, sin RI cos AA).
 * RI with OA: a along sign(cos OA) (cos RI sin OA, -cos RI cos OA, sin RI cos OA).
 * OI with RA: u^2 = cos(OI + RA) cos(OI - RA). OI with AA: u^2 cos^2 AA = cos(OI + AA) cos(OI - AA).
 * AI with RA: z^2 = sin(AI + RA) sin(AI - RA). AI with OA: z^2 cos^2 OA = sin(AI + OA) sin(AI - OA).
 * Source: murray-1993 for the three definitions (abstract read); the mixed equations are ours.
 * Checked: round trip of all nine pairs to 1e-9 degrees, a worked example and the edges of existence in
 * tests/biomechanics/orientation/mixed-cup-angles.test.ts; no published table.
 * Limits: operative inclination with another definition's anteversion fits two axes, mirrored about horizontal; the
 * one that opens caudally (RI at most 90) is returned. Ill-conditioned close to the edges of existence.
 *
 * @example
 * cupAxisFromStatedAngles({
 *   inclination: { definition: 'radiographic', value: degrees(40) },
 *   anteversion: { definition: 'operative', value: degrees(19.28) },
 * })
 * //=> kind 'axis', axis [0.2588, -0.7399, 0.6209] (rounded)
 */
export function cupAxisFromStatedAngles({ inclination, anteversion }: StatedCupAngles): CupAxisOutcome {
  assertCupAngle('inclination', inclination.definition, inclination.value);
  assertCupAngle('anteversion', anteversion.definition, anteversion.value);
  const solve = SOLVERS[`${inclination.definition}/${anteversion.definition}`];
  return solve(inclination.value, anteversion.value);
}

/**
 * Restates a stated inclination and anteversion, each in its own definition, as one radiographic orientation.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: as `cupAxisFromStatedAngles`; RangeError outside, `none` with a reason where no single axis exists.
 * Method: the axis of `cupAxisFromStatedAngles`; RI = atan2(a.z, -a.y), RA = atan2(a.x, hypot(a.y, a.z)).
 * Source: murray-1993 for the three definitions (abstract read); the mixed equations are ours.
 * Checked: round trip of all nine pairs to 1e-9 degrees and a worked example in
 * tests/biomechanics/orientation/mixed-cup-angles.test.ts; no published table.
 * Limits: as `cupAxisFromStatedAngles`.
 *
 * @example
 * toRadiographic({
 *   inclination: { definition: 'radiographic', value: degrees(45) },
 *   anteversion: { definition: 'anatomic', value: degrees(23.9) },
 * })
 * //=> kind 'orientation', inclination 45, anteversion 17.40 (degrees, rounded)
 */
export function toRadiographic(stated: StatedCupAngles): RadiographicOutcome {
  const outcome = cupAxisFromStatedAngles(stated);
  if (outcome.kind === 'none') return outcome;
  return { kind: 'orientation', orientation: cupOrientationFromAxis(outcome.axis, 'radiographic') };
}
