import { degrees, type Degrees } from '../../base/units.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { femurVector, pelvisVector, rotateX, rotateY, rotateZ, type Vec3 } from '../vector.js';

/** Position of the femur in the pelvis; extension, adduction and internal rotation are negative. */
export interface Pose {
  readonly flexion: Degrees;
  readonly abduction: Degrees;
  readonly externalRotation: Degrees;
}

/** A pose of a motion set, with the name the set gives it. */
export interface NamedPose extends Pose {
  readonly name: string;
}

/** How the neck sits on the femur. */
export interface StemOrientation {
  /** Stem anteversion; positive when the neck points forward from the shaft. */
  readonly anteversion: Degrees;
  /** Angle between neck and shaft (CCD). */
  readonly neckShaftAngle: Degrees;
}

/**
 * Direction of the prosthetic neck, from head center to neck base.
 *
 * Frame: femur; X anterior, Y cranial along the shaft, Z lateral; coincides with the pelvis frame in neutral position.
 * Units: degrees in; a unit vector without unit out.
 * Domain: stem anteversion in (-90, 90), neck-shaft angle in (90, 180); RangeError outside.
 * Method: (-sin AT cos(CCD - 90), -sin(CCD - 90), cos AT cos(CCD - 90)), AT stem anteversion, CCD neck-shaft angle.
 * Source: ours; the geometry of the two angles.
 * Checked: the same vector built from rotations, and worked poses, in tests/biomechanics/motion/pose.test.ts and
 * tests/biomechanics/range/impingement-margin.test.ts.
 * Limits: stem anteversion against the posterior condylar axis; another reference must be converted first.
 *
 * @example
 * neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) })
 * //=> [-0.1830, -0.7071, 0.6830] (rounded)
 */
export function neckAxis({ anteversion, neckShaftAngle }: StemOrientation): Vec3<'femur'> {
  if (!(anteversion > -90 && anteversion < 90)) {
    throw new RangeError(`stem anteversion must lie in (-90, 90) degrees, got ${anteversion}`);
  }
  if (!(neckShaftAngle > 90 && neckShaftAngle < 180)) {
    throw new RangeError(`neck-shaft angle must lie in (90, 180) degrees, got ${neckShaftAngle}`);
  }
  const drop = neckShaftAngle - 90;
  return femurVector(-sinDeg(anteversion) * cosDeg(drop), -sinDeg(drop), cosDeg(anteversion) * cosDeg(drop));
}

/**
 * Where a direction fixed to the femur points, seen from the pelvis, in a pose.
 *
 * Frame: femur in, pelvis out; both X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; the vector keeps its length and unit.
 * Domain: every finite angle.
 * Method: Rz(flexion) Rx(-abduction) Ry(-externalRotation) v: flexion about the pelvic axis, abduction about the
 * floating axis, rotation about the shaft.
 * Source: ours; this order is the project's convention.
 * Checked: landmarks and three's Matrix4 in tests/biomechanics/motion/pose.test.ts.
 * Limits: a source that states another order must be converted first. Poses are relative to the pelvis, not the ground.
 *
 * @example
 * poseInPelvis({ flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(0) }, femurVector(0, -1, 0))
 * //=> [1, 0, 0]: at 90 degrees of flexion the shaft points forward
 */
export function poseInPelvis(pose: Pose, v: Vec3<'femur'>): Vec3<'pelvis'> {
  const rotated = rotateY(degrees(0 - pose.externalRotation), pelvisVector(v[0], v[1], v[2]));
  const abducted = rotateX(degrees(0 - pose.abduction), rotated);
  return rotateZ(pose.flexion, abducted);
}
