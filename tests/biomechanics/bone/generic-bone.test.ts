import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import {
  placeBone,
  type BonePlacement,
  type BoneShapes,
} from '../../../src/biomechanics/bone/generic-bone.js';
import { femurVector, pelvisVector, type Frame, type Vec3 } from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';

const SHAPES: BoneShapes = {
  femoralOffset: millimetres(40),
  stemAnteversion: degrees(0),
  pelvis: [{ part: 'anterior-rim', center: pelvisVector(30, 20, 10), radius: millimetres(5) }],
  femur: [{ part: 'trochanter-tip', center: femurVector(-5, 0, 48), radius: millimetres(8) }],
};

const UNCHANGED: BonePlacement = {
  femoralOffsetChange: millimetres(0),
  headHeightChange: millimetres(0),
  hipCenterMedial: millimetres(0),
  hipCenterCranial: millimetres(0),
  stemAnteversion: degrees(0),
};

function placed(
  change: Partial<BonePlacement>,
  shapes = SHAPES,
): { pelvis: Vec3<Frame>; femur: Vec3<Frame> } {
  const scene = placeBone(shapes, { ...UNCHANGED, ...change });
  const [pelvis] = scene.pelvis;
  const [femur] = scene.femur;
  if (!pelvis || !femur) throw new Error('the scene lost a sphere');
  return { pelvis: pelvis.center, femur: femur.center };
}

function expectAt(found: Vec3<Frame>, expected: readonly number[]): void {
  found.forEach((value, axis) => expectWithin(value, expected[axis] ?? Number.NaN, 1e-9));
}

// Closed form throughout: where a point stands once the origin has moved.
describe('bone around the placed hip center', () => {
  test('stays where it is stated when nothing changes', () => {
    expectAt(placed({}).pelvis, [30, 20, 10]);
    expectAt(placed({}).femur, [-5, 0, 48]);
  });

  test('more offset moves the femur laterally and leaves the pelvis', () => {
    const { pelvis, femur } = placed({ femoralOffsetChange: millimetres(4) });
    expectAt(femur, [-5, 0, 52]);
    expectAt(pelvis, [30, 20, 10]);
  });

  test('a head seated higher on the stem moves the femur distally and leaves the pelvis', () => {
    const { pelvis, femur } = placed({ headHeightChange: millimetres(6) });
    expectAt(femur, [-5, -6, 48]);
    expectAt(pelvis, [30, 20, 10]);
  });

  test('a medial and cranial hip center sees the pelvis further lateral and caudal, and the femur unchanged', () => {
    const { pelvis, femur } = placed({ hipCenterMedial: millimetres(5), hipCenterCranial: millimetres(10) });
    expectAt(pelvis, [30, 10, 15]);
    expectAt(femur, [-5, 0, 48]);
  });

  test('more offset on an anteverted stem moves the femur along the plane of the neck, back and laterally', () => {
    const anteverted = { ...SHAPES, stemAnteversion: degrees(30) };
    const { femur } = placed(
      { femoralOffsetChange: millimetres(4), stemAnteversion: degrees(30) },
      anteverted,
    );
    expectAt(femur, [-5 - 2, 0, 48 + 4 * Math.sqrt(0.75)]);
  });

  // Independent implementation: three turns the head center about the shaft axis, which runs through (0, 0, 40).
  test.each([-20, 10, 25])('stem version %s carries the head about the shaft', (version) => {
    const shaft = new Vector3(0, 0, 40);
    const turn = new Matrix4().makeRotationY((-version * Math.PI) / 180);
    const head = new Vector3(0, 0, -40).applyMatrix4(turn).add(shaft);
    const tip = new Vector3(-5, 0, 48).sub(head);
    expectAt(placed({ stemAnteversion: degrees(version) }).femur, [tip.x, tip.y, tip.z]);
  });

  test('more stem anteversion puts the trochanter further back', () => {
    expect(placed({ stemAnteversion: degrees(20) }).femur[0]).toBeLessThan(placed({}).femur[0]);
  });

  test.each([
    ['no offset left', { femoralOffsetChange: millimetres(-40) }],
    ['a stem turned by a right angle', { stemAnteversion: degrees(90) }],
  ])('%s is refused', (_case, change) => {
    expect(() => placed(change)).toThrow(RangeError);
  });
});
