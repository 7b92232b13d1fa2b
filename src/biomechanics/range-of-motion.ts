import { degrees, type Degrees } from '../base/units.js';
import {
  firstTurnTo,
  MOTION_DIRECTIONS,
  poseAlong,
  WHOLE_MOTION,
  type MotionDirection,
} from './motion-direction.js';
import { prostheticMargin, type ReadyHip } from './prosthetic-margin.js';

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
 * Method: round neck and even rim: closed form (`firstTurnTo` at half the oscillation angle). Else the margin along the
 * motion, in steps of half a degree, a closer look where it dips between steps, and bisection to 1e-9 degrees.
 * Source: ours; oscillation-2001 uses the same model of contact (abstract read).
 * Checked: derived rows, printed signs and an independent implementation in tests/biomechanics/range-of-motion.test.ts;
 * meshes of the same solids in tests/biomechanics/mesh-contact.test.ts.
 * Limits: neck and rim only. Internal rotation at 90 degrees is a property of this model, not the test made in theatre.
 *
 * @example
 * motionEnd(hip, 'flexion')
 * //=> { kind: 'contact', at: 122.96, contactAzimuth: 27.3 } (degrees, rounded), for 40/15, stem 15, 28 mm head, 12 mm neck
 */
export function motionEnd(hip: ReadyHip, direction: MotionDirection): MotionEnd {
  const start = prostheticMargin(hip, poseAlong(direction, degrees(0)));
  if (start.margin <= 0) return { kind: 'contact-at-start', contactAzimuth: start.contactAzimuth };
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
/** A dip of the margin between steps is looked at when it comes this near to contact; it cannot fall faster than 2 a degree. */
const NEAR = 2 * STEP;
const PRECISION = 1e-9;

function searchedEnd(hip: ReadyHip, direction: MotionDirection): Degrees | undefined {
  const marginAt = (turn: number): number =>
    prostheticMargin(hip, poseAlong(direction, degrees(turn))).margin;
  let [before, last] = [Infinity, marginAt(0)];
  for (let turn = STEP; turn <= WHOLE_MOTION; turn += STEP) {
    const next = marginAt(turn);
    if (next <= 0) return bisect(marginAt, turn - STEP, turn);
    if (last < NEAR && last <= before && last <= next) {
      const lowest = lowestBetween(marginAt, turn - 2 * STEP, turn);
      if (marginAt(lowest) <= 0) return bisect(marginAt, turn - 2 * STEP, lowest);
    }
    [before, last] = [last, next];
  }
  return undefined;
}

function bisect(marginAt: (turn: number) => number, free: number, touching: number): Degrees {
  let [low, high] = [Math.max(0, free), touching];
  while (high - low > PRECISION) {
    const middle = (low + high) / 2;
    if (marginAt(middle) > 0) low = middle;
    else high = middle;
  }
  return degrees(high);
}

function lowestBetween(marginAt: (turn: number) => number, from: number, to: number): number {
  let [left, right] = [Math.max(0, from), to];
  while (right - left > 1e-4) {
    const [first, second] = [left + (right - left) / 3, right - (right - left) / 3];
    if (marginAt(first) < marginAt(second)) right = second;
    else left = first;
  }
  return (left + right) / 2;
}
