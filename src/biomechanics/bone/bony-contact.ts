import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import type { BoneScene, BoneSphere, FemurPart, PelvisPart } from './generic-bone.js';
import { firstTurnTo, poseAlong, type MotionDirection } from '../motion/motion-direction.js';
import { poseInPelvis, type NamedPose, type Pose } from '../motion/pose.js';
import { atan2Deg } from '../trigonometry.js';
import { angleBetween, length } from '../vector.js';

/** The two parts that meet, or are nearest to meeting. */
export interface BonyPair {
  readonly pelvis: PelvisPart;
  readonly femur: FemurPart;
}

/** How far a pose is from contact between bone and bone. */
export interface BonyMargin {
  /** Angle left before the nearest pair touches; negative when the pose lies beyond contact. */
  readonly margin: Degrees;
  readonly pair: BonyPair;
}

/** The bony margin of the pose that has the least, and the name of that pose. */
export interface WorstBonyMargin extends BonyMargin {
  readonly motion: string;
}

/** How far a motion goes before bone meets bone. */
export type BonyRange =
  | { readonly status: 'contact'; readonly angle: Degrees; readonly pair: BonyPair }
  | { readonly status: 'none-within-180' };

/** How far a motion goes before anything stops it, and what does. */
export type CombinedRange =
  | { readonly status: 'limited-by-components'; readonly angle: Degrees }
  | { readonly status: 'limited-by-bone'; readonly angle: Degrees; readonly pair: BonyPair }
  | { readonly status: 'none-within-180' };

type PelvisSphere = BoneSphere<'pelvis', PelvisPart>;
type FemurSphere = BoneSphere<'femur', FemurPart>;

interface MeetingPair {
  readonly pelvis: PelvisSphere;
  readonly femur: FemurSphere;
  readonly contactAngle: Degrees;
}

/**
 * Angle, at the hip center, between the directions of two spheres that touch.
 *
 * Frame: none; the femur turns about the hip center, so both distances from it stay.
 * Units: millimetres in, degrees out.
 * Domain: positive radii, centers away from the hip center; RangeError otherwise. Undefined when the two never touch, 180
 * when they overlap in every position.
 * Method: law of cosines, acos((f^2 + p^2 - (r1 + r2)^2) / (2 f p)), f and p the distances from the hip center, r1 and r2
 * the radii; no such angle when |f - p| > r1 + r2.
 * Source: ours; elementary geometry.
 * Checked: right and equilateral triangles, and three's vectors, in tests/biomechanics/bone/bony-contact.test.ts.
 * Limits: spheres only.
 *
 * @example
 * // centers 30 and 40 mm from the hip center, radii 20 and 30 mm: a right triangle
 * boneContactAngle(pelvisSphere, femurSphere)
 * //=> 90 (degrees)
 */
export function boneContactAngle(pelvis: PelvisSphere, femur: FemurSphere): Degrees | undefined {
  for (const { part, radius } of [pelvis, femur]) {
    if (!(radius > 0)) throw new RangeError(`radius of ${part} must be positive, got ${radius} mm`);
  }
  const p = length(pelvis.center);
  const f = length(femur.center);
  if (!(p > 0 && f > 0)) {
    throw new RangeError(
      `${pelvis.part} and ${femur.part} must lie away from the hip center, got ${p}, ${f} mm`,
    );
  }
  const reach = pelvis.radius + femur.radius;
  if (Math.abs(f - p) > reach) return undefined;
  if (f + p <= reach) return degrees(180);
  const cosine = (f * f + p * p - reach * reach) / (2 * f * p);
  return atan2Deg(Math.sqrt(Math.max(0, 1 - cosine * cosine)), cosine);
}

/**
 * Bony margin of a pose: the angle left before the nearest pair of bone parts touches.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees out.
 * Domain: as `boneContactAngle`. Undefined when no pair of the scene can ever touch.
 * Method: for each pair, the angle between their directions minus their contact angle; the least. Compared as reported,
 * rounded to 1e-6 degrees; the earlier pair of the scene wins a tie.
 * Source: ours.
 * Checked: against distances between spheres posed by three, and on worked poses, in
 * tests/biomechanics/bone/bony-contact.test.ts.
 * Limits: low certainty: direction of an effect only. A margin is an angle about the hip center in the direction that
 * closes the gap soonest, not a range of one motion. No soft tissue.
 *
 * @example
 * // `unchanged`: no change of offset, height or hip center, stem anteversion 15
 * bonyMargin(placeBone(GENERIC_BONE.I, unchanged), poseAlong('flexion', degrees(90)))
 * //=> margin 19.06 (degrees, rounded), pair 'anterior-inferior-iliac-spine' and 'intertrochanteric-line'
 */
export function bonyMargin(scene: BoneScene, pose: Pose): BonyMargin | undefined {
  return nearest(meetingPairs(scene), pose);
}

/**
 * The worst bony margin over a set of named poses.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: as `bonyMargin`, and at least one pose; RangeError outside.
 * Method: the least margin, compared rounded to 1e-6 degrees; the earlier pose wins a tie.
 * Source: ours; the set of poses carries its own source.
 * Checked: ties and order in tests/biomechanics/bone/bony-contact.test.ts.
 * Limits: as `bonyMargin`; says nothing about poses that are not in the set.
 *
 * @example
 * worstBonyMargin(placeBone(GENERIC_BONE.I, unchanged), [
 *   { name: 'flexion', flexion: degrees(110), abduction: degrees(0), externalRotation: degrees(0) },
 *   { name: 'internal rotation', flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(-30) },
 * ])
 * //=> motion 'internal rotation', margin 2.69 (degrees, rounded), pair 'anterior-rim' and 'intertrochanteric-line'
 */
export function worstBonyMargin(scene: BoneScene, poses: readonly NamedPose[]): WorstBonyMargin | undefined {
  if (poses.length === 0) throw new RangeError('the worst bony margin needs at least one pose');
  const pairs = meetingPairs(scene);
  let worst: WorstBonyMargin | undefined;
  for (const pose of poses) {
    const found = nearest(pairs, pose);
    if (found && isSooner(found.margin, worst?.margin)) worst = { motion: pose.name, ...found };
  }
  return worst;
}

/**
 * How far a motion goes before bone meets bone; closed form.
 *
 * Frame: pelvis and femur; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees out, counted from neutral, or from 90 degrees of flexion for internal rotation there.
 * Domain: as `boneContactAngle`.
 * Method: `firstTurnTo` for every pair at its contact angle; the least, compared rounded to 1e-6 degrees, the earlier
 * pair of the scene winning a tie. A motion that begins in contact has range 0, as has internal rotation at 90 degrees
 * when flexion does not get there.
 * Source: ours.
 * Checked: against a walk over sphere distances computed by three, and beside published directions and ranges, of which
 * some do not hold, in tests/biomechanics/bone/bony-contact.test.ts and tests/biomechanics/bone/generic-bone-range.test.ts.
 * Limits: low certainty: direction of an effect, not its size, not where it levels off, and no range of a person. With the
 * generic scene, spine type I or II, each of the two gains of 4 mm of offset from 0 to 8 mm adds 4 to 15 degrees of flexion
 * and of internal rotation at 90 degrees. That bound does not hold for losses (4 mm less cost 16.0, 16.6 and 18.1 degrees
 * of flexion with types I, II and III) nor for type III (4 mm more add 18.0). Steps beyond 8 mm do not shrink: flexion with
 * type I is 128.1, 136.3, 142.5 and 150.6 degrees at 0, 4, 8 and 12 mm. Less offset does not end every motion sooner:
 * extension is 37.3, 36.8 and 37.6 degrees at 0, -4 and -8 mm. Nothing here depends on head, neck or cup orientation. No
 * soft tissue.
 *
 * @example
 * bonyRange(placeBone(GENERIC_BONE.I, unchanged), 'flexion')
 * //=> status 'contact', angle 128.14 (degrees, rounded), pair 'anterior-rim' and 'intertrochanteric-line'
 */
export function bonyRange(scene: BoneScene, direction: MotionDirection): BonyRange {
  if (direction === 'internal-rotation-at-90') {
    const flexion = bonyRange(scene, 'flexion');
    if (flexion.status === 'contact' && flexion.angle < 90) return { ...flexion, angle: degrees(0) };
  }
  const pairs = meetingPairs(scene);
  const start = nearest(pairs, poseAlong(direction, degrees(0)));
  if (start && start.margin <= 0) return { status: 'contact', angle: degrees(0), pair: start.pair };
  let first: BonyRange = { status: 'none-within-180' };
  for (const { pelvis, femur, contactAngle } of pairs) {
    const angle = firstTurnTo(direction, { moving: femur.center, fixed: pelvis.center, angle: contactAngle });
    if (angle === undefined) continue;
    if (first.status === 'contact' && !isSooner(angle, first.angle)) continue;
    first = { status: 'contact', angle, pair: { pelvis: pelvis.part, femur: femur.part } };
  }
  return first;
}

/**
 * How far a motion goes before neck meets rim or bone meets bone, and which of them stops it.
 *
 * Frame: none.
 * Units: degrees in, degrees out.
 * Domain: a prosthetic range of 0 or more, RangeError otherwise; undefined for one that does not end within 180 degrees.
 * Method: the lesser; compared rounded to 1e-6 degrees, components named on a tie.
 * Source: ours.
 * Checked: tests/biomechanics/bone/bony-contact.test.ts, and what a larger head adds in
 * tests/biomechanics/bone/generic-bone-range.test.ts.
 * Limits: as the two ranges; the bony one has low certainty.
 *
 * @example
 * combinedRange(degrees(123), { status: 'none-within-180' })
 * //=> status 'limited-by-components', angle 123
 */
export function combinedRange(prosthetic: Degrees | undefined, bony: BonyRange): CombinedRange {
  if (prosthetic === undefined) {
    return bony.status === 'contact' ? { ...bony, status: 'limited-by-bone' } : bony;
  }
  if (prosthetic < 0) throw new RangeError(`a prosthetic range must be 0 or more, got ${prosthetic} degrees`);
  return bony.status === 'contact' && isSooner(bony.angle, prosthetic)
    ? { ...bony, status: 'limited-by-bone' }
    : { status: 'limited-by-components', angle: prosthetic };
}

/** Pairs that can touch in some position, in the order of the scene. */
function meetingPairs(scene: BoneScene): readonly MeetingPair[] {
  return scene.pelvis.flatMap((pelvis) =>
    scene.femur.flatMap((femur) => {
      const contactAngle = boneContactAngle(pelvis, femur);
      return contactAngle === undefined ? [] : [{ pelvis, femur, contactAngle }];
    }),
  );
}

function nearest(pairs: readonly MeetingPair[], pose: Pose): BonyMargin | undefined {
  let least: BonyMargin | undefined;
  for (const { pelvis, femur, contactAngle } of pairs) {
    const apart = angleBetween(pelvis.center, poseInPelvis(pose, femur.center));
    const margin = degrees(apart - contactAngle);
    if (isSooner(margin, least?.margin)) least = { margin, pair: { pelvis: pelvis.part, femur: femur.part } };
  }
  return least;
}

function isSooner(angle: Degrees, than: Degrees | undefined): boolean {
  return than === undefined || roundForUnit(angle, 'deg') < roundForUnit(than, 'deg');
}
