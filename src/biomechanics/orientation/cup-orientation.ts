import type { Degrees } from '../../base/units.js';
import { atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';
import { pelvisVector, type Vec3 } from '../vector.js';

/** The three published ways to state how a cup points; the same cup has different angles in each. */
export type CupDefinition = 'radiographic' | 'operative' | 'anatomic';

/** Both angles of a cup in one definition. The definition is part of the type, so that two cannot be swapped. */
export interface CupOrientation<D extends CupDefinition> {
  readonly definition: D;
  readonly inclination: Degrees;
  readonly anteversion: Degrees;
}

interface AngleDomain {
  readonly contains: (value: number) => boolean;
  readonly text: string;
}

const INCLINED: AngleDomain = { contains: (value) => value > 0 && value < 180, text: '(0, 180)' };
const INCLINED_TO_SAGITTAL: AngleDomain = { contains: (value) => value > 0 && value <= 90, text: '(0, 90]' };
const TURNED: AngleDomain = { contains: (value) => value > -90 && value < 90, text: '(-90, 90)' };
const TURNED_IN_SAGITTAL: AngleDomain = {
  contains: (value) => value >= -180 && value <= 180,
  text: '[-180, 180]',
};

/**
 * Each definition covers every axis that opens to the operated side (z > 0), once. Operative inclination is the angle
 * to the sagittal plane and cannot exceed 90; a cup turned past horizontal has operative anteversion past 90 instead.
 */
const DOMAINS: Readonly<
  Record<CupDefinition, { readonly inclination: AngleDomain; readonly anteversion: AngleDomain }>
> = {
  radiographic: { inclination: INCLINED, anteversion: TURNED },
  anatomic: { inclination: INCLINED, anteversion: TURNED },
  operative: { inclination: INCLINED_TO_SAGITTAL, anteversion: TURNED_IN_SAGITTAL },
};

/** Throws RangeError when the angle cannot belong to any cup in its definition. */
export function assertCupAngle(
  angle: 'inclination' | 'anteversion',
  definition: CupDefinition,
  value: Degrees,
): void {
  const domain = DOMAINS[definition][angle];
  if (domain.contains(value)) return;
  throw new RangeError(`${definition} ${angle} must lie in ${domain.text} degrees, got ${value}`);
}

/**
 * The direction a cup opens in.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; a unit vector without unit out.
 * Domain: radiographic and anatomic inclination in (0, 180), anteversion in (-90, 90); operative inclination in (0, 90],
 * anteversion in [-180, 180]; RangeError outside.
 * Method: radiographic a = (sin RA, -cos RA cos RI, cos RA sin RI); operative a = (cos OI sin OA, -cos OI cos OA, sin OI);
 * anatomic a = (sin AI sin AA, -cos AI, sin AI cos AA).
 * Source: murray-1993 for the three definitions (abstract read); the vectors are ours.
 * Checked: round trip to 1e-9 degrees and worked examples in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: relative to the pelvis; says nothing about pelvic tilt.
 *
 * @example
 * cupAxis({ definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) })
 * //=> [0.2588, -0.7399, 0.6209] (rounded)
 */
export function cupAxis(cup: CupOrientation<CupDefinition>): Vec3<'pelvis'> {
  const { definition, inclination, anteversion } = cup;
  assertCupAngle('inclination', definition, inclination);
  assertCupAngle('anteversion', definition, anteversion);
  const [sinI, cosI] = [sinDeg(inclination), cosDeg(inclination)];
  const [sinA, cosA] = [sinDeg(anteversion), cosDeg(anteversion)];
  switch (definition) {
    case 'radiographic':
      return pelvisVector(sinA, -cosA * cosI, cosA * sinI);
    case 'operative':
      return pelvisVector(cosI * sinA, -cosI * cosA, sinI);
    case 'anatomic':
      return pelvisVector(sinI * sinA, -cosI, sinI * cosA);
    default:
      return definition satisfies never;
  }
}

function anglesOf(
  [x, y, z]: Vec3<'pelvis'>,
  definition: CupDefinition,
): Pick<CupOrientation<CupDefinition>, 'inclination' | 'anteversion'> {
  switch (definition) {
    case 'radiographic':
      return { inclination: atan2Deg(z, -y), anteversion: atan2Deg(x, Math.hypot(y, z)) };
    case 'operative':
      return { inclination: atan2Deg(z, Math.hypot(x, y)), anteversion: atan2Deg(x, -y) };
    case 'anatomic':
      return { inclination: atan2Deg(Math.hypot(x, z), -y), anteversion: atan2Deg(x, z) };
    default:
      return definition satisfies never;
  }
}

/**
 * The angles of a cup axis in one definition; the inverse of `cupAxis`.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: a vector of any length in; degrees out.
 * Domain: axes that open to the operated side (z > 0); RangeError otherwise.
 * Method: RI = atan2(z, -y), RA = atan2(x, hypot(y, z)); OI = atan2(z, hypot(x, y)), OA = atan2(x, -y);
 * AI = atan2(hypot(x, z), -y), AA = atan2(x, z).
 * Source: murray-1993 for the three definitions (abstract read); the equations follow from the axis vector.
 * Checked: round trip to 1e-9 degrees and worked examples in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: at the straight lateral axis operative anteversion has no meaning and is reported as computed (0 or 180).
 *
 * @example
 * cupOrientationFromAxis(pelvisVector(0, -1, 1), 'anatomic')
 * //=> inclination 45, anteversion 0 (degrees)
 */
export function cupOrientationFromAxis<D extends CupDefinition>(
  axis: Vec3<'pelvis'>,
  definition: D,
): CupOrientation<D> {
  if (!(axis[2] > 0)) throw new RangeError(`a cup axis must open laterally (z > 0), got z = ${axis[2]}`);
  return { definition, ...anglesOf(axis, definition) };
}

/**
 * Restates a radiographic cup orientation in the operative definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion in (-90, 90); RangeError outside.
 * Method: axis a = (sin RA, -cos RA cos RI, cos RA sin RI); OI = atan2(a.z, hypot(a.x, a.y)), OA = atan2(a.x, -a.y).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: for RI above 90 the operative anteversion lies beyond 90 in size; says nothing about pelvic tilt.
 *
 * @example
 * radiographicToOperative({ definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) })
 * //=> inclination 38.38, anteversion 19.28 (degrees, rounded)
 */
export function radiographicToOperative(cup: CupOrientation<'radiographic'>): CupOrientation<'operative'> {
  return cupOrientationFromAxis(cupAxis(cup), 'operative');
}

/**
 * Restates a radiographic cup orientation in the anatomic definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion in (-90, 90); RangeError outside.
 * Method: axis a = (sin RA, -cos RA cos RI, cos RA sin RI); AI = atan2(hypot(a.x, a.z), -a.y), AA = atan2(a.x, a.z).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: says nothing about pelvic tilt; correct for tilt before calling.
 *
 * @example
 * radiographicToAnatomic({ definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) })
 * //=> inclination 42.27, anteversion 22.63 (degrees, rounded)
 */
export function radiographicToAnatomic(cup: CupOrientation<'radiographic'>): CupOrientation<'anatomic'> {
  return cupOrientationFromAxis(cupAxis(cup), 'anatomic');
}

/**
 * Restates an operative cup orientation in the radiographic definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 90], anteversion in [-180, 180]; RangeError outside.
 * Method: axis a = (cos OI sin OA, -cos OI cos OA, sin OI); RI = atan2(a.z, -a.y), RA = atan2(a.x, hypot(a.y, a.z)).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: says nothing about pelvic tilt; correct for tilt before calling.
 *
 * @example
 * operativeToRadiographic({ definition: 'operative', inclination: degrees(45), anteversion: degrees(20) })
 * //=> inclination 46.78, anteversion 14.00 (degrees, rounded)
 */
export function operativeToRadiographic(cup: CupOrientation<'operative'>): CupOrientation<'radiographic'> {
  return cupOrientationFromAxis(cupAxis(cup), 'radiographic');
}

/**
 * Restates an operative cup orientation in the anatomic definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 90], anteversion in [-180, 180]; RangeError outside.
 * Method: axis a = (cos OI sin OA, -cos OI cos OA, sin OI); AI = atan2(hypot(a.x, a.z), -a.y), AA = atan2(a.x, a.z).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: says nothing about pelvic tilt; correct for tilt before calling.
 *
 * @example
 * operativeToAnatomic({ definition: 'operative', inclination: degrees(35), anteversion: degrees(25) })
 * //=> inclination 42.06, anteversion 31.11 (degrees, rounded)
 */
export function operativeToAnatomic(cup: CupOrientation<'operative'>): CupOrientation<'anatomic'> {
  return cupOrientationFromAxis(cupAxis(cup), 'anatomic');
}

/**
 * Restates an anatomic cup orientation in the radiographic definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion in (-90, 90); RangeError outside.
 * Method: axis a = (sin AI sin AA, -cos AI, sin AI cos AA); RI = atan2(a.z, -a.y), RA = atan2(a.x, hypot(a.y, a.z)).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: says nothing about pelvic tilt; correct for tilt before calling.
 *
 * @example
 * anatomicToRadiographic({ definition: 'anatomic', inclination: degrees(50), anteversion: degrees(30) })
 * //=> inclination 45.90, anteversion 22.52 (degrees, rounded)
 */
export function anatomicToRadiographic(cup: CupOrientation<'anatomic'>): CupOrientation<'radiographic'> {
  return cupOrientationFromAxis(cupAxis(cup), 'radiographic');
}

/**
 * Restates an anatomic cup orientation in the operative definition.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion in (-90, 90); RangeError outside.
 * Method: axis a = (sin AI sin AA, -cos AI, sin AI cos AA); OI = atan2(a.z, hypot(a.x, a.y)), OA = atan2(a.x, -a.y).
 * Source: murray-1993 for both definitions (abstract read); the equations follow from the axis vector.
 * Checked: worked examples and round trip to 1e-9 degrees in tests/biomechanics/orientation/cup-orientation.test.ts.
 * Limits: for AI above 90 the operative anteversion lies beyond 90 in size; says nothing about pelvic tilt.
 *
 * @example
 * anatomicToOperative({ definition: 'anatomic', inclination: degrees(50), anteversion: degrees(30) })
 * //=> inclination 41.56, anteversion 30.79 (degrees, rounded)
 */
export function anatomicToOperative(cup: CupOrientation<'anatomic'>): CupOrientation<'operative'> {
  return cupOrientationFromAxis(cupAxis(cup), 'operative');
}
