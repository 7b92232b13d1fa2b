import { degrees, millimetres, type Degrees } from '../../src/base/units.js';
import { bonyRange, combinedRange, type BonyRange } from '../../src/biomechanics/bone/bony-contact.js';
import { cupAxis } from '../../src/biomechanics/orientation/cup-orientation.js';
import { GENERIC_BONE, type SpineType } from '../../src/biomechanics/bone/generic-bone-shape.js';
import { placeBone, type BonePlacement, type BoneScene } from '../../src/biomechanics/bone/generic-bone.js';
import { firstTurnTo, type MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import { neckAxis } from '../../src/biomechanics/motion/pose.js';
import { oscillation } from './oscillation.js';

export const UNCHANGED: BonePlacement = {
  femoralOffsetChange: millimetres(0),
  headHeightChange: millimetres(0),
  hipCenterMedial: millimetres(0),
  hipCenterCranial: millimetres(0),
  stemAnteversion: degrees(15),
};

/** What is placed otherwise than in the generic hip, in plain numbers. */
export type Change = Partial<Record<keyof BonePlacement, number>>;

export function scene(change: Change = {}, spine: SpineType = 'I'): BoneScene {
  const merged = { ...UNCHANGED, ...change };
  return placeBone(GENERIC_BONE[spine], {
    femoralOffsetChange: millimetres(merged.femoralOffsetChange),
    headHeightChange: millimetres(merged.headHeightChange),
    hipCenterMedial: millimetres(merged.hipCenterMedial),
    hipCenterCranial: millimetres(merged.hipCenterCranial),
    stemAnteversion: degrees(merged.stemAnteversion),
  });
}

/** How far a motion goes until bone meets bone. */
export function contact(direction: MotionDirection, change: Change = {}, spine: SpineType = 'I'): number {
  return angleOf(bonyRange(scene(change, spine), direction));
}

/** A motion without an end counts as longer than any with one. */
export function angleOf(range: BonyRange): number {
  return range.status === 'contact' ? range.angle : Infinity;
}

/** Neck 12, cup 40/15, stem 15, neck-shaft angle 135: until the neck stands half the oscillation angle off the cup. */
export function prosthetic(direction: MotionDirection, head: number, inclination = 40): Degrees | undefined {
  return firstTurnTo(direction, {
    moving: neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) }),
    fixed: cupAxis({
      definition: 'radiographic',
      inclination: degrees(inclination),
      anteversion: degrees(15),
    }),
    angle: degrees(oscillation(head, 12) / 2),
  });
}

/** Components and bone together. */
export function combined(direction: MotionDirection, head: number, inclination?: number) {
  return combinedRange(prosthetic(direction, head, inclination), bonyRange(scene(), direction));
}

/** How far a motion goes until components or bone end it. */
export function reach(direction: MotionDirection, head: number): number {
  const found = combined(direction, head);
  return found.status === 'none-within-180' ? Infinity : found.angle;
}
