import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import { poseInPelvis, type NamedPose, type Pose } from '../motion/pose.js';
import { atan2Deg } from '../trigonometry.js';
import { angleBetween, cross, dot, normalise, pelvisVector, type Vec3 } from '../vector.js';

/** The parts of a replaced hip that decide when neck meets rim. */
export interface ImpingementGeometry {
  readonly cupAxis: Vec3<'pelvis'>;
  readonly neckAxis: Vec3<'femur'>;
  /** Full oscillation angle, the same in every direction. */
  readonly oscillationAngle: Degrees;
}

/** How far a pose is from contact between neck and rim. */
export interface ImpingementMargin {
  /** Angle left before contact; negative when the pose lies beyond it. */
  readonly margin: Degrees;
  /** Angle between cup axis and posed neck axis. */
  readonly axisAngle: Degrees;
  /** Rim point the neck is nearest to; undefined when the neck points straight out of the opening. */
  readonly contactAzimuth: Degrees | undefined;
}

/** The margin of the pose that has the least, and the name of that pose. */
export interface WorstImpingementMargin extends ImpingementMargin {
  readonly motion: string;
}

const CRANIAL = pelvisVector(0, 1, 0);

/** Below this sine a direction coincides with the cup axis and has no azimuth. */
const NO_DIRECTION = 1e-9;

/**
 * Azimuth, on the rim, of the rim point a direction leans toward.
 *
 * Frame: pelvis; azimuth in the opening plane: 0 cranial, 90 anterior, 180 caudal, 270 posterior. Clock on a right hip:
 * azimuth / 30; mirrored on a left one.
 * Units: vectors of any length in; degrees in [0, 360) out.
 * Domain: cup axes that open laterally (z > 0), RangeError otherwise; undefined for a direction along the cup axis.
 * Method: a unit cup axis, e0 = unit(Y - (Y.a) a), e90 = unit(Y x a), which points anteriorly as a.z > 0;
 * azimuth = atan2(d.e90, d.e0).
 * Source: ours; this zero and this sense are the project's convention.
 * Checked: the four quarter points, a turn of the direction about the cup axis, and worked poses in
 * tests/biomechanics/range/impingement-margin.test.ts.
 * Limits: an azimuth, not a clock position; the position of a liner elevation counts the other way.
 *
 * @example
 * rimAzimuth(pelvisVector(0, -1, 1), pelvisVector(1, -1, 1))
 * //=> 90 (degrees): anterior
 */
export function rimAzimuth(cupAxis: Vec3<'pelvis'>, direction: Vec3<'pelvis'>): Degrees | undefined {
  if (!(cupAxis[2] > 0)) {
    throw new RangeError(`a cup axis must open laterally (z > 0), got z = ${cupAxis[2]}`);
  }
  const axis = normalise(cupAxis);
  const unit = normalise(direction);
  const anterior = normalise(cross(CRANIAL, axis));
  const cranial = cross(axis, anterior);
  const towardAnterior = dot(unit, anterior);
  const towardCranial = dot(unit, cranial);
  if (Math.hypot(towardAnterior, towardCranial) < NO_DIRECTION) return undefined;
  const azimuth = atan2Deg(towardAnterior, towardCranial);
  return azimuth < 0 ? degrees((azimuth + 360) % 360) : azimuth;
}

/**
 * Prosthetic impingement margin of a pose: the angle left before the neck meets the rim.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: oscillation angle in (0, 360), cup axis that opens laterally (z > 0); RangeError outside.
 * Method: half the oscillation angle minus the angle between cup axis and posed neck axis.
 * Source: ours; oscillation-2001 uses the same model of contact (abstract read).
 * Checked: six worked poses, derived motion limits and published signs in
 * tests/biomechanics/range/impingement-margin.test.ts.
 * Limits: neck and rim only, round neck, flat rim; no bone, no soft tissue, no elevated rim. Contact is not dislocation.
 *
 * @example
 * impingementMargin(
 *   {
 *     cupAxis: cupAxis({ definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) }),
 *     neckAxis: neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) }),
 *     oscillationAngle: oscillationAngle({ head: millimetres(28), neck: millimetres(12), centerOffset: millimetres(0) }),
 *   },
 *   { flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(-45) },
 * )
 * //=> margin -7.82, axisAngle 72.45, contactAzimuth 25.94 (degrees, rounded)
 */
export function impingementMargin(geometry: ImpingementGeometry, pose: Pose): ImpingementMargin {
  const { cupAxis, neckAxis, oscillationAngle } = geometry;
  if (!(oscillationAngle > 0 && oscillationAngle < 360)) {
    throw new RangeError(`oscillation angle must lie in (0, 360) degrees, got ${oscillationAngle}`);
  }
  const posedNeck = poseInPelvis(pose, neckAxis);
  const contactAzimuth = rimAzimuth(cupAxis, posedNeck);
  const axisAngle = angleBetween(cupAxis, posedNeck);
  return { margin: degrees(oscillationAngle / 2 - axisAngle), axisAngle, contactAzimuth };
}

/**
 * The worst prosthetic impingement margin over a set of named poses.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: as `impingementMargin`, and at least one pose; RangeError outside.
 * Method: the least margin. Margins are compared as they are reported, rounded to 1e-6 degrees, and the earlier pose
 * wins a tie, so that the last bit of a sine cannot change the motion named.
 * Source: ours; the set of poses carries its own source.
 * Checked: worked poses, ties and order in tests/biomechanics/range/impingement-margin.test.ts.
 * Limits: as `impingementMargin`; says nothing about poses that are not in the set.
 *
 * @example
 * worstImpingementMargin(geometry, [
 *   { name: 'flexion', flexion: degrees(120), abduction: degrees(0), externalRotation: degrees(0) },
 *   { name: 'internal rotation', flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(-45) },
 * ])
 * //=> motion 'internal rotation', margin -7.82 (degrees, rounded), for the geometry of `impingementMargin`'s example
 */
export function worstImpingementMargin(
  geometry: ImpingementGeometry,
  poses: readonly NamedPose[],
): WorstImpingementMargin {
  let worst: WorstImpingementMargin | undefined;
  for (const pose of poses) {
    const found = { motion: pose.name, ...impingementMargin(geometry, pose) };
    if (worst === undefined || isWorse(found, worst)) worst = found;
  }
  if (worst === undefined) throw new RangeError('the worst margin needs at least one pose');
  return worst;
}

function isWorse(a: ImpingementMargin, b: ImpingementMargin): boolean {
  return roundForUnit(a.margin, 'deg') < roundForUnit(b.margin, 'deg');
}
