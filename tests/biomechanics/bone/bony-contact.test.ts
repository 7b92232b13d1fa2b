import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import {
  boneContactAngle,
  bonyMargin,
  bonyRange,
  combinedRange,
  worstBonyMargin,
  type BonyRange,
} from '../../../src/biomechanics/bone/bony-contact.js';
import type {
  BoneScene,
  BoneSphere,
  FemurPart,
  PelvisPart,
} from '../../../src/biomechanics/bone/generic-bone.js';
import { MOTION_DIRECTIONS, poseAlong } from '../../../src/biomechanics/motion/motion-direction.js';
import type { NamedPose, Pose } from '../../../src/biomechanics/motion/pose.js';
import { femurVector, pelvisVector } from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';

type Point = readonly [number, number, number];

function pelvisSphere(
  [x, y, z]: Point,
  radius: number,
  part: PelvisPart = 'anterior-rim',
): BoneSphere<'pelvis', PelvisPart> {
  return { part, center: pelvisVector(x, y, z), radius: millimetres(radius) };
}

function femurSphere(
  [x, y, z]: Point,
  radius: number,
  part: FemurPart = 'intertrochanteric-line',
): BoneSphere<'femur', FemurPart> {
  return { part, center: femurVector(x, y, z), radius: millimetres(radius) };
}

/** Shaft and rim in one sagittal plane, 40 mm out, 20 mm across together: they touch 28.955 degrees apart. */
const PLANAR: BoneScene = {
  pelvis: [pelvisSphere([40, 0, 0], 10)],
  femur: [femurSphere([0, -40, 0], 10)],
};
const PLANAR_ANGLE = (2 * Math.asin(10 / 40) * 180) / Math.PI;

/** Distance between two spheres, surface to surface, with the femur posed by three. */
function gap(scene: BoneScene, pose: Pose): number {
  const rad = Math.PI / 180;
  const turn = new Matrix4()
    .makeRotationZ(pose.flexion * rad)
    .multiply(new Matrix4().makeRotationX((0 - pose.abduction) * rad))
    .multiply(new Matrix4().makeRotationY((0 - pose.externalRotation) * rad));
  const gaps = scene.femur.flatMap((femur) => {
    const posed = new Vector3(...femur.center).applyMatrix4(turn);
    return scene.pelvis.map(
      (pelvis) => posed.distanceTo(new Vector3(...pelvis.center)) - pelvis.radius - femur.radius,
    );
  });
  return Math.min(...gaps);
}

const coordinate = fc.double({ min: -60, max: 60, noNaN: true });
const point = fc.tuple(coordinate, coordinate, coordinate).filter((p) => Math.hypot(...p) > 15);
const radius = fc.double({ min: 3, max: 14, noNaN: true });
const scenes = fc
  .record({
    pelvis: fc.array(fc.tuple(point, radius), { minLength: 1, maxLength: 3 }),
    femur: fc.array(fc.tuple(point, radius), { minLength: 1, maxLength: 3 }),
  })
  .map(({ pelvis, femur }): BoneScene => ({
    pelvis: pelvis.map(([center, r]) => pelvisSphere(center, r)),
    femur: femur.map(([center, r]) => femurSphere(center, r)),
  }));
const angle = fc.double({ min: -120, max: 120, noNaN: true });
const poses = fc
  .tuple(angle, angle, angle)
  .map(([f, a, e]): Pose => ({ flexion: degrees(f), abduction: degrees(a), externalRotation: degrees(e) }));

describe('the angle at which two spheres touch', () => {
  // Closed form: Euclid's triangles.
  test('is 90 degrees where the hip center is the right angle of a 30-40-50 triangle', () => {
    expectWithin(
      boneContactAngle(pelvisSphere([30, 0, 0], 20), femurSphere([0, 40, 0], 30)) ?? NaN,
      90,
      1e-12,
    );
  });

  test('is 60 degrees in an equilateral triangle', () => {
    expectWithin(
      boneContactAngle(pelvisSphere([40, 0, 0], 25), femurSphere([0, 0, 40], 15)) ?? NaN,
      60,
      1e-12,
    );
  });

  test('does not exist for spheres that pass each other at different distances', () => {
    expect(boneContactAngle(pelvisSphere([60, 0, 0], 9), femurSphere([0, 40, 0], 10))).toBeUndefined();
  });

  test('is 0 for spheres that touch only when one stands behind the other', () => {
    expectWithin(
      boneContactAngle(pelvisSphere([60, 0, 0], 10), femurSphere([0, 40, 0], 10)) ?? NaN,
      0,
      1e-12,
    );
  });

  test('is 180 for spheres that overlap in every position', () => {
    expect(boneContactAngle(pelvisSphere([10, 0, 0], 15), femurSphere([0, 10, 0], 10))).toBe(180);
  });

  test('is refused without a radius, and for a sphere around the hip center', () => {
    expect(() => boneContactAngle(pelvisSphere([40, 0, 0], 0), femurSphere([0, 40, 0], 5))).toThrow(
      RangeError,
    );
    expect(() => boneContactAngle(pelvisSphere([40, 0, 0], 5), femurSphere([0, 0, 0], 5))).toThrow(
      RangeError,
    );
  });
});

describe('the bony margin of a pose', () => {
  test('is what is left to turn before the shaft meets the rim, and names the two', () => {
    const found = bonyMargin(PLANAR, poseAlong('flexion', degrees(30)));
    expectWithin(found?.margin ?? NaN, 90 - PLANAR_ANGLE - 30, 1e-9);
    expect(found?.pair).toEqual({ pelvis: 'anterior-rim', femur: 'intertrochanteric-line' });
  });

  test('does not exist where nothing can ever touch', () => {
    const apart: BoneScene = { ...PLANAR, pelvis: [pelvisSphere([70, 0, 0], 10)] };
    expect(bonyMargin(apart, poseAlong('flexion', degrees(90)))).toBeUndefined();
    expect(worstBonyMargin(apart, [{ name: 'rest', ...poseAlong('flexion', degrees(0)) }])).toBeUndefined();
  });

  // Independent implementation: three poses the femur and measures the distance.
  test('is negative exactly where spheres posed by three overlap', () => {
    fc.assert(
      fc.property(scenes, poses, (scene, pose) => {
        const apart = gap(scene, pose);
        // At a grazing distance the sign is a matter of the last bits.
        fc.pre(Math.abs(apart) > 1e-6);
        expect((bonyMargin(scene, pose)?.margin ?? Infinity) < 0).toBe(apart < 0);
      }),
      { numRuns: 500, seed: 11 },
    );
  });

  test('goes to the earlier of two pairs that are equally near', () => {
    const twins: BoneScene = {
      pelvis: [pelvisSphere([40, 0, 0], 10, 'lateral-ilium'), pelvisSphere([40, 0, 0], 10, 'posterior-wall')],
      femur: PLANAR.femur,
    };
    expect(bonyMargin(twins, poseAlong('flexion', degrees(0)))?.pair.pelvis).toBe('lateral-ilium');
    const range = bonyRange(twins, 'flexion');
    expect(range.status === 'contact' && range.pair.pelvis).toBe('lateral-ilium');
  });
});

describe('the worst bony margin', () => {
  const named = (name: string, flexion: number): NamedPose => ({
    name,
    ...poseAlong('flexion', degrees(flexion)),
  });

  test('is that of the pose with the least margin, whatever the order', () => {
    const set = [named('sitting', 40), named('bending', 55), named('rest', 0)];
    const worst = worstBonyMargin(PLANAR, set);
    expect(worst?.motion).toBe('bending');
    expectWithin(worst?.margin ?? NaN, 90 - PLANAR_ANGLE - 55, 1e-9);
    expect(worstBonyMargin(PLANAR, [...set].reverse())?.motion).toBe('bending');
  });

  test('goes to the earlier of two equal poses, also when they differ only beyond the sixth decimal', () => {
    const first = named('first', 50);
    const second = named('second', 50.0000001);
    expect(worstBonyMargin(PLANAR, [first, second])?.motion).toBe('first');
    expect(worstBonyMargin(PLANAR, [second, first])?.motion).toBe('second');
  });

  test('of no poses at all is refused', () => {
    expect(() => worstBonyMargin(PLANAR, [])).toThrow(RangeError);
  });
});

describe('the bony range of a motion', () => {
  test('ends where the margin is used up', () => {
    const found = bonyRange(PLANAR, 'flexion');
    expect(found.status).toBe('contact');
    expectWithin(found.status === 'contact' ? found.angle : NaN, 90 - PLANAR_ANGLE, 1e-9);
  });

  test('has no end within 180 degrees when the parts never come near', () => {
    expect(bonyRange(PLANAR, 'abduction')).toEqual({ status: 'none-within-180' });
  });

  test('is 0 for a motion that begins in contact', () => {
    const touching: BoneScene = { ...PLANAR, femur: [femurSphere([35, -10, 0], 10)] };
    expect(bonyRange(touching, 'extension')).toMatchObject({ status: 'contact', angle: 0 });
  });

  test('is 0 for internal rotation at 90 degrees when flexion does not get there', () => {
    expect(bonyRange(PLANAR, 'internal-rotation-at-90')).toMatchObject({ status: 'contact', angle: 0 });
  });

  // Independent implementation: three poses the femur in steps of half a degree and measures the distance.
  test('agrees with a walk along each motion', () => {
    fc.assert(
      fc.property(scenes, fc.constantFrom(...MOTION_DIRECTIONS), (scene, direction) => {
        fc.pre(direction !== 'internal-rotation-at-90');
        const found = bonyRange(scene, direction);
        const walked = Array.from({ length: 361 }, (_, step) => step / 2).find(
          (turn) => gap(scene, poseAlong(direction, degrees(turn))) < -1e-9,
        );
        const end = found.status === 'contact' ? found.angle : Infinity;
        // The walk may step over a contact that lasts less than half a degree; the closed form may not be later.
        if (walked !== undefined) expect(end).toBeLessThanOrEqual(walked);
        if (found.status === 'contact' && found.angle > 0) {
          expect(Math.abs(gap(scene, poseAlong(direction, found.angle)))).toBeLessThan(1e-5);
        }
      }),
      { numRuns: 150, seed: 12 },
    );
  });
});

describe('components and bone together', () => {
  const bone = (end: number): BonyRange => ({
    status: 'contact',
    angle: degrees(end),
    pair: { pelvis: 'anterior-rim', femur: 'trochanter-anterior-edge' },
  });

  test('the lesser of the two ranges counts and is named', () => {
    expect(combinedRange(degrees(110), bone(120))).toEqual({ status: 'limited-by-components', angle: 110 });
    expect(combinedRange(degrees(130), bone(120))).toEqual({
      status: 'limited-by-bone',
      angle: 120,
      pair: { pelvis: 'anterior-rim', femur: 'trochanter-anterior-edge' },
    });
  });

  test('components are named when both end at the same angle, to the sixth decimal', () => {
    expect(combinedRange(degrees(120.0000001), bone(120)).status).toBe('limited-by-components');
  });

  test('one without an end leaves the other', () => {
    expect(combinedRange(undefined, bone(120)).status).toBe('limited-by-bone');
    expect(combinedRange(degrees(110), { status: 'none-within-180' }).status).toBe('limited-by-components');
    expect(combinedRange(undefined, { status: 'none-within-180' }).status).toBe('none-within-180');
  });

  test('a negative prosthetic range is refused', () => {
    expect(() => combinedRange(degrees(-1), bone(120))).toThrow(RangeError);
  });
});
