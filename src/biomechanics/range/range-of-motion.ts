import { degrees, type Degrees } from '../../base/units.js';
import {
  firstTurnTo,
  MOTION_DIRECTIONS,
  poseAlong,
  WHOLE_MOTION,
  type MotionDirection,
} from '../motion/motion-direction.js';
import { posedClearance, posedNeck, prostheticMargin, type ReadyHip } from './prosthetic-margin.js';

/** How a motion of the hip ends. */
export type MotionEnd =
  | {
      readonly kind: 'contact';
      /** How far it went. */
      readonly at: Degrees;
      /** Rim azimuth of the contact. */
      readonly contactAzimuth: Degrees | undefined;
    }
  /** Neck and rim touch where the motion would begin. */
  | { readonly kind: 'contact-at-start'; readonly contactAzimuth: Degrees | undefined }
  /** No contact within half a turn. */
  | { readonly kind: 'free' };

/** Ends of the seven motions. */
export type RangeOfMotion = Readonly<Record<MotionDirection, MotionEnd>>;

/**
 * How far a motion goes before neck and rim touch.
 *
 * Frame: pelvis; motions as `poseAlong` says.
 * Units: degrees in, degrees out.
 * Domain: openings that face laterally (z > 0); RangeError otherwise.
 * Method: round neck and even rim: closed form (`firstTurnTo` at half the oscillation angle). Else contact along
 * the motion, in steps of half a degree, a closer look where it nears between steps, and bisection to 1e-9 degrees. Beside
 * the end of a lip a motion may pass where a straight lean would not, so its end can lie beyond a margin of 0.
 * Source: ours; oscillation-2001 uses the same model of contact (abstract read).
 * Checked: derived rows, printed signs and an independent implementation in tests/biomechanics/range/range-of-motion.test.ts;
 * meshes of the same solids in tests/biomechanics/mesh-contact.test.ts.
 * Limits: neck and rim only. Internal rotation at 90 degrees is a property of this model, not the test made in theatre.
 *
 * @example
 * motionEnd(hip, 'flexion')
 * //=> { kind: 'contact', at: 123.34, contactAzimuth: 24.54 } (degrees, rounded), for 40/15, stem 15, 28 mm head, 12 mm neck
 */
export function motionEnd(hip: ReadyHip, direction: MotionDirection): MotionEnd {
  const start = prostheticMargin(hip, poseAlong(direction, degrees(0)));
  if (posedClearance(hip, posedNeck(hip, poseAlong(direction, degrees(0)))) <= 0)
    return { kind: 'contact-at-start', contactAzimuth: start.contactAzimuth };
  const at = hip.joint.evenHalf === undefined ? searchedEnd(hip, direction) : evenEnd(hip, direction);
  if (at === undefined) return { kind: 'free' };
  const { contactAzimuth } = prostheticMargin(hip, poseAlong(direction, at));
  return { kind: 'contact', at, contactAzimuth };
}

/** The ends of all seven motions; see `motionEnd`. */
export function rangeOfMotion(hip: ReadyHip): RangeOfMotion {
  const ends = MOTION_DIRECTIONS.map((direction) => [direction, motionEnd(hip, direction)] as const);
  return Object.fromEntries(ends) as Record<MotionDirection, MotionEnd>;
}

function evenEnd({ joint, neckAxis, opening }: ReadyHip, direction: MotionDirection): Degrees | undefined {
  const angle = joint.evenHalf;
  return angle === undefined
    ? undefined
    : firstTurnTo(direction, { moving: neckAxis, fixed: opening.axis, angle });
}

const STEP = 0.5;
/** A dip of the clearance between steps is looked at when it comes this near to contact; it cannot fall faster than 2 a degree. */
const NEAR = 2 * STEP;
const PRECISION = 1e-9;

function searchedEnd(hip: ReadyHip, direction: MotionDirection): Degrees | undefined {
  const clearanceAt = (turn: number): number =>
    posedClearance(hip, posedNeck(hip, poseAlong(direction, degrees(turn))));
  let [before, last] = [Infinity, clearanceAt(0)];
  for (let turn = STEP; turn <= WHOLE_MOTION; turn += STEP) {
    const next = clearanceAt(turn);
    if (next <= 0) return bisect(clearanceAt, turn - STEP, turn);
    if (last < NEAR && last <= before && last <= next) {
      const lowest = lowestBetween(clearanceAt, turn - 2 * STEP, turn);
      if (clearanceAt(lowest) <= 0) return bisect(clearanceAt, turn - 2 * STEP, lowest);
    }
    [before, last] = [last, next];
  }
  return undefined;
}

function bisect(clearanceAt: (turn: number) => number, free: number, touching: number): Degrees {
  let [low, high] = [Math.max(0, free), touching];
  while (high - low > PRECISION) {
    const middle = (low + high) / 2;
    if (clearanceAt(middle) > 0) low = middle;
    else high = middle;
  }
  return degrees(high);
}

function lowestBetween(clearanceAt: (turn: number) => number, from: number, to: number): number {
  let [left, right] = [Math.max(0, from), to];
  while (right - left > 1e-4) {
    const [first, second] = [left + (right - left) / 3, right - (right - left) / 3];
    if (clearanceAt(first) < clearanceAt(second)) right = second;
    else left = first;
  }
  return (left + right) / 2;
}
