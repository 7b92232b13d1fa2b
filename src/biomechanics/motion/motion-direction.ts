import { degrees, type Degrees } from '../../base/units.js';
import { poseInPelvis, type Pose } from './pose.js';
import { atan2Deg } from '../trigonometry.js';
import { dot, normalise, type Vec3 } from '../vector.js';

/** The motions a hip is examined in; internal rotation once with the leg straight and once at 90 degrees of flexion. */
export const MOTION_DIRECTIONS = [
  'flexion',
  'extension',
  'abduction',
  'adduction',
  'internal-rotation',
  'external-rotation',
  'internal-rotation-at-90',
] as const;

export type MotionDirection = (typeof MOTION_DIRECTIONS)[number];

/** Furthest turn looked at: beyond half a turn a motion comes back to where it was. */
export const WHOLE_MOTION = degrees(180);

/**
 * The pose reached by moving one way from neutral, or from 90 degrees of flexion.
 *
 * Frame: none; a pose of the femur in the pelvis.
 * Units: degrees in, degrees out; every direction counts upward from 0.
 * Domain: finite angles.
 * Method: the angle goes into one member of the pose with the sign of its direction.
 * Source: ours; the signs are those of `Pose`.
 * Checked: tests/biomechanics/motion/motion-direction.test.ts.
 * Limits: one motion at a time, as on examination; combined motions are poses of a motion set.
 *
 * @example
 * poseAlong('internal-rotation-at-90', degrees(30))
 * //=> flexion 90, abduction 0, externalRotation -30 (degrees)
 */
export function poseAlong(direction: MotionDirection, angle: Degrees): Pose {
  const none = degrees(0);
  const back = degrees(0 - angle);
  switch (direction) {
    case 'flexion':
      return { flexion: angle, abduction: none, externalRotation: none };
    case 'extension':
      return { flexion: back, abduction: none, externalRotation: none };
    case 'abduction':
      return { flexion: none, abduction: angle, externalRotation: none };
    case 'adduction':
      return { flexion: none, abduction: back, externalRotation: none };
    case 'internal-rotation':
      return { flexion: none, abduction: none, externalRotation: back };
    case 'external-rotation':
      return { flexion: none, abduction: none, externalRotation: angle };
    case 'internal-rotation-at-90':
      return { flexion: degrees(90), abduction: none, externalRotation: back };
    default:
      return direction satisfies never;
  }
}

/** A direction fixed to the femur, and one fixed to the pelvis that it may come no nearer to, or go no further from. */
export interface TurnTarget {
  readonly moving: Vec3<'femur'>;
  readonly fixed: Vec3<'pelvis'>;
  /** Angle between the two at which the motion ends. */
  readonly angle: Degrees;
}

/**
 * How far a motion goes before a direction of the femur and one of the pelvis stand at a given angle; closed form.
 *
 * Frame: femur and pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: directions other than zero; RangeError otherwise. Undefined when no turn in (0, 180] brings the two there. At
 * the start itself nothing is said: whether the motion begins free is the caller's question.
 * Method: each of the seven motions turns the femur about one fixed axis, so the cosine between the two directions is
 * A + B cos t + C sin t; A, B, C follow from the values at 0, 90 and 180 degrees. With B = r cos d, C = r sin d the
 * solutions are t = d -+ acos((cos angle - A) / r); the smallest positive one is returned.
 * Source: ours; elementary trigonometry.
 * Checked: against a fine walk along each motion in tests/biomechanics/motion/motion-direction.test.ts.
 * Limits: exact for cones about a fixed direction only (round neck and rim, sphere on sphere).
 *
 * @example
 * firstTurnTo('flexion', { moving: femurVector(0, -1, 0), fixed: pelvisVector(1, 0, 0), angle: degrees(30) })
 * //=> 60 (degrees): the shaft then stands 30 degrees below the forward direction
 */
export function firstTurnTo(
  direction: MotionDirection,
  { moving, fixed, angle }: TurnTarget,
): Degrees | undefined {
  const from = normalise(fixed);
  const along = normalise(moving);
  const [start, middle, end] = [0, 90, 180].map((turn) =>
    dot(poseInPelvis(poseAlong(direction, degrees(turn)), along), from),
  ) as [number, number, number];
  const constant = (start + end) / 2;
  const cosine = (start - end) / 2;
  const sine = middle - constant;
  const radius = Math.hypot(cosine, sine);
  const wanted = (Math.cos((angle * Math.PI) / 180) - constant) / radius;
  if (radius === 0 || !(Math.abs(wanted) <= 1)) return undefined;
  const middleTurn = atan2Deg(sine, cosine);
  const spread = atan2Deg(Math.sqrt(1 - wanted * wanted), wanted);
  const turns = [middleTurn - spread, middleTurn + spread].map((turn) => ((turn % 360) + 360) % 360);
  const first = Math.min(...turns.filter((turn) => turn > 0));
  return first <= WHOLE_MOTION ? degrees(first) : undefined;
}
