import { degrees } from '../../base/units.js';
import type { Pose } from './pose.js';
import { atan2Deg } from '../trigonometry.js';
import { femurVector, pelvisVector, rotateX, rotateY, rotateZ, type Vec3 } from '../vector.js';

type Turn = 'flexion' | 'abduction' | 'rotation';

/**
 * The order in which a source turns the femur, first to last, each turn about the axis the ones before have left:
 * flexion about Z, abduction about X, rotation about Y. The first is this project's own.
 */
export const ROTATION_ORDERS = [
  'flexion-abduction-rotation',
  'flexion-rotation-abduction',
  'abduction-flexion-rotation',
  'abduction-rotation-flexion',
  'rotation-flexion-abduction',
  'rotation-abduction-flexion',
] as const;

export type RotationOrder = (typeof ROTATION_ORDERS)[number];

const TURNS: Readonly<Record<RotationOrder, readonly [first: Turn, second: Turn, third: Turn]>> = {
  'flexion-abduction-rotation': ['flexion', 'abduction', 'rotation'],
  'flexion-rotation-abduction': ['flexion', 'rotation', 'abduction'],
  'abduction-flexion-rotation': ['abduction', 'flexion', 'rotation'],
  'abduction-rotation-flexion': ['abduction', 'rotation', 'flexion'],
  'rotation-flexion-abduction': ['rotation', 'flexion', 'abduction'],
  'rotation-abduction-flexion': ['rotation', 'abduction', 'flexion'],
};

/** Angles as a source states them, with the order it turns in where it says so. Signs are those of `Pose`. */
export interface StatedPose extends Pose {
  readonly order?: RotationOrder;
  /** Whether the axes move with the femur (intrinsic; so when absent) or stay fixed in the pelvis (extrinsic). */
  readonly axes?: 'moving' | 'fixed';
}

/** A stated pose in the project's convention. */
export interface ConvertedPose {
  readonly pose: Pose;
  /** True when the source states no order, so that the project's own was taken. */
  readonly orderAssumed: boolean;
}

/** Below this size of the shaft's sagittal part, flexion has no meaning: the thigh points straight out or in. */
const NO_FLEXION = 1e-9;

/**
 * A pose stated in any order of rotations, in the project's order: flexion, abduction, rotation about moving axes.
 *
 * Frame: femur in the pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: finite angles; RangeError when axes are stated without an order. Flexion and external rotation come out in
 * [-180, 180], abduction in [-90, 90]. A pose in our order, or with one angle only, is the same in every order and
 * comes back as it was.
 * Method: with x, y, z the images of the axes under the turns as stated: abduction = atan2(-y.z, hypot(y.x, y.y)),
 * flexion = atan2(-y.x, y.y); after undoing the flexion, external rotation = atan2(-z.x, x.x). At |abduction| = 90 only
 * the sum or difference of the other two is determined: flexion is then 0 and external rotation takes the whole turn,
 * so that every direction of the femur still ends where the source puts it.
 * Source: ours; elementary rotations. No order stated: ours is taken and `orderAssumed` says so.
 * Checked: 2,000 poses in every order and both kinds of axes against three's Quaternion and Euler to 1e-9 degrees,
 * single turns and the lock at 90, in tests/biomechanics/motion/rotation-order.test.ts.
 * Limits: Tait-Bryan angles about the anatomical axes only, and signs as in `Pose`: a source that counts adduction or
 * internal rotation positive must be turned round first. Close to |abduction| = 90 single angles are ill-conditioned.
 *
 * @example
 * poseFromStatedOrder({
 *   flexion: degrees(90),
 *   abduction: degrees(-20),
 *   externalRotation: degrees(-30),
 *   order: 'abduction-flexion-rotation',
 * })
 * //=> flexion 90, abduction 0, externalRotation -10 (degrees, rounded), orderAssumed false: with the
 * thigh straight ahead, adduction about the pelvic axis turns it about its own shaft
 */
export function poseFromStatedOrder(stated: StatedPose): ConvertedPose {
  const { order, axes = 'moving', flexion, abduction, externalRotation } = stated;
  const asStated: Pose = { flexion, abduction, externalRotation };
  if (order === undefined) {
    if (stated.axes !== undefined) {
      throw new RangeError(`${stated.axes} axes need an order of rotations, got none`);
    }
    return { pose: asStated, orderAssumed: true };
  }
  const ours = order === 'flexion-abduction-rotation' && axes === 'moving';
  const pose = ours || turnsOf(asStated) < 2 ? asStated : decomposed(asStated, TURNS[order], axes);
  return { pose, orderAssumed: false };
}

/** How many of the three turns a pose makes; below two, no order can matter. */
export function turnsOf({ flexion, abduction, externalRotation }: Pose): number {
  return [flexion, abduction, externalRotation].filter((angle) => angle !== 0).length;
}

function decomposed(pose: Pose, turns: readonly Turn[], axes: 'moving' | 'fixed'): Pose {
  // About moving axes the last turn acts on the femur first, about fixed ones the first does.
  const acting = axes === 'moving' ? [...turns].reverse() : turns;
  const image = (v: Vec3<'femur'>): Vec3<'pelvis'> =>
    acting.reduce((turned, turn) => turnedBy(turn, pose, turned), pelvisVector(v[0], v[1], v[2]));
  const y = image(femurVector(0, 1, 0));
  const sagittal = Math.hypot(y[0], y[1]);
  const flexion = sagittal < NO_FLEXION ? degrees(0) : atan2Deg(0 - y[0], y[1]);
  const unflexed = (v: Vec3<'femur'>): Vec3<'pelvis'> => rotateZ(degrees(0 - flexion), image(v));
  const [x, z] = [unflexed(femurVector(1, 0, 0)), unflexed(femurVector(0, 0, 1))];
  return {
    flexion,
    abduction: atan2Deg(0 - y[2], sagittal),
    externalRotation: atan2Deg(0 - z[0], x[0]),
  };
}

function turnedBy(turn: Turn, pose: Pose, v: Vec3<'pelvis'>): Vec3<'pelvis'> {
  switch (turn) {
    case 'flexion':
      return rotateZ(pose.flexion, v);
    case 'abduction':
      return rotateX(degrees(0 - pose.abduction), v);
    case 'rotation':
      return rotateY(degrees(0 - pose.externalRotation), v);
    default:
      return turn satisfies never;
  }
}
