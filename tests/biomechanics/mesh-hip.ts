import { MathUtils, Matrix4, Quaternion, Vector3 } from 'three';
import type { CupOrientation } from '../../src/biomechanics/orientation/cup-orientation.js';
import type { FaceTurn } from '../../src/biomechanics/range/liner.js';
import type { MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import type { StemOrientation } from '../../src/biomechanics/motion/pose.js';

/*
 * Where liner and neck stand in the pelvis, from bone landmarks turned one after the other with three's own rotations;
 * nothing of the code under test but its types. Pelvis frame: x anterior, y cranial, z lateral, head center at 0.
 */

const ANTERIOR = new Vector3(1, 0, 0);
const CRANIAL = new Vector3(0, 1, 0);
const LATERAL = new Vector3(0, 0, 1);

/** Turn about an axis, in degrees, right-handed. */
function turnAbout(axis: Vector3, angle: number): Quaternion {
  return new Quaternion().setFromAxisAngle(axis.clone().normalize(), MathUtils.degToRad(angle));
}

/** Landmarks of a femur about its head center. */
interface Femur {
  /** Center of the knee. */
  readonly knee: Vector3;
  /** Forward from the knee, the way the toes point. */
  readonly forward: Vector3;
}

function turned({ knee, forward }: Femur, turn: Quaternion): Femur {
  return { knee: knee.clone().applyQuaternion(turn), forward: forward.clone().applyQuaternion(turn) };
}

/**
 * Landmarks after flexion about the pelvic axis, abduction about the forward axis of the flexed femur, and external
 * rotation about the shaft.
 */
export function posedFemur(flexion: number, abduction: number, externalRotation: number): Femur {
  const neutral = { knee: new Vector3(0, -400, 0), forward: ANTERIOR.clone() };
  const flexed = turned(neutral, turnAbout(LATERAL, flexion));
  // Abduction takes the knee away from the midline, external rotation the toes.
  const abducted = turned(flexed, turnAbout(flexed.forward, -abduction));
  return turned(abducted, turnAbout(abducted.knee, externalRotation));
}

/** The femur's frame in the pelvis, from its landmarks. */
export function femurFrame({ knee, forward }: Femur): Matrix4 {
  const up = knee.clone().negate().normalize();
  const front = forward.clone().normalize();
  return new Matrix4().makeBasis(front, up, front.clone().cross(up));
}

/** The femur's frame after one motion from neutral, or from 90 degrees of flexion. */
export function movedFemur(direction: MotionDirection, angle: number): Matrix4 {
  return femurFrame(movedLandmarks(direction, angle));
}

function movedLandmarks(direction: MotionDirection, angle: number): Femur {
  switch (direction) {
    case 'flexion':
      return posedFemur(angle, 0, 0);
    case 'extension':
      return posedFemur(-angle, 0, 0);
    case 'abduction':
      return posedFemur(0, angle, 0);
    case 'adduction':
      return posedFemur(0, -angle, 0);
    case 'internal-rotation':
      return posedFemur(0, 0, -angle);
    case 'external-rotation':
      return posedFemur(0, 0, angle);
    case 'internal-rotation-at-90':
      return posedFemur(90, 0, -angle);
    default:
      return direction satisfies never;
  }
}

/**
 * Opening direction of a cup: from straight down, out to the side by the inclination, then out of the frontal plane by
 * the anteversion.
 */
export function cupOpening({ inclination, anteversion }: CupOrientation<'radiographic'>): Vector3 {
  const frontal = CRANIAL.clone()
    .negate()
    .applyQuaternion(turnAbout(ANTERIOR, 0 - inclination));
  return frontal.clone().applyQuaternion(turnAbout(frontal.clone().cross(ANTERIOR), anteversion));
}

/** A liner's frame in the pelvis: z along its opening, y cranial and x anterior within the opening plane. */
export function linerFrame(opening: Vector3): Matrix4 {
  const cranial = CRANIAL.clone().projectOnPlane(opening).normalize();
  return new Matrix4().makeBasis(cranial.clone().cross(opening), cranial, opening);
}

/** Opening direction after a turn of the face toward a rim azimuth of the cup. */
export function turnedOpening(opening: Vector3, face: FaceTurn | undefined): Vector3 {
  if (!face) return opening;
  // Azimuths grow from cranial to anterior, against the right hand about the opening.
  const toward = new Vector3(0, 1, 0)
    .applyAxisAngle(LATERAL, MathUtils.degToRad(0 - face.toward))
    .transformDirection(linerFrame(opening));
  return opening.clone().applyQuaternion(turnAbout(opening.clone().cross(toward), face.angle));
}

/**
 * A neck's frame in the femur: z along the neck, x the normal of flats that face forward and backward. From a neck
 * straight out to the side: dropped until it stands at the neck-shaft angle to the shaft, then turned about the shaft.
 * The neck runs from head to shaft, so that a stem turned forward has it run backward.
 */
export function neckFrame({ anteversion, neckShaftAngle }: StemOrientation): Matrix4 {
  const drop = turnAbout(ANTERIOR, neckShaftAngle - 90);
  const version = turnAbout(CRANIAL, 0 - anteversion);
  return new Matrix4().makeRotationFromQuaternion(version.multiply(drop));
}
