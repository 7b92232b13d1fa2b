import fc from 'fast-check';
import { Euler, Matrix4, Quaternion, Vector3, type EulerOrder } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import { poseInPelvis, type Pose } from '../../../src/biomechanics/motion/pose.js';
import {
  poseFromStatedOrder,
  ROTATION_ORDERS,
  type RotationOrder,
  type StatedPose,
} from '../../../src/biomechanics/motion/rotation-order.js';
import { femurVector } from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';

// Doubles through three turns and an arc tangent, in degrees.
const ANGLES = 1e-9;
// Components of unit vectors.
const ROUNDING = 1e-12;

const RAD = Math.PI / 180;

// In three, an order names axes that move: 'ZXY' is Rz Rx Ry. Flexion turns about Z, abduction about -X, external
// rotation about -Y.
const THREE_ORDER: Readonly<Record<RotationOrder, EulerOrder>> = {
  'flexion-abduction-rotation': 'ZXY',
  'flexion-rotation-abduction': 'ZYX',
  'abduction-flexion-rotation': 'XZY',
  'abduction-rotation-flexion': 'XYZ',
  'rotation-flexion-abduction': 'YZX',
  'rotation-abduction-flexion': 'YXZ',
};

const REVERSED: Readonly<Record<EulerOrder, EulerOrder>> = {
  XYZ: 'ZYX',
  XZY: 'YZX',
  YXZ: 'ZXY',
  YZX: 'XZY',
  ZXY: 'YXZ',
  ZYX: 'XYZ',
};

type Angles = readonly [flexion: number, abduction: number, externalRotation: number];

function pose([flexion, abduction, externalRotation]: Angles): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function stated(angles: Angles, order: RotationOrder, axes: 'moving' | 'fixed'): StatedPose {
  return { ...pose(angles), order, axes };
}

/** Fixed axes in one order are moving axes in the other. */
function quaternion([f, a, e]: Angles, order: RotationOrder, axes: 'moving' | 'fixed'): Quaternion {
  const named = THREE_ORDER[order];
  const asMoving = axes === 'moving' ? named : REVERSED[named];
  return new Quaternion().setFromEuler(new Euler(-a * RAD, -e * RAD, f * RAD, asMoving));
}

function expectTurnsLike(found: Pose, expected: Quaternion): void {
  for (const [x, y, z] of [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ] as const) {
    const turned = new Vector3(x, y, z).applyQuaternion(expected);
    const ours = poseInPelvis(found, femurVector(x, y, z));
    expectWithin(ours[0], turned.x, ROUNDING);
    expectWithin(ours[1], turned.y, ROUNDING);
    expectWithin(ours[2], turned.z, ROUNDING);
  }
}

const BOTH = ['moving', 'fixed'] as const;
const EVERY = ROTATION_ORDERS.flatMap((order) => BOTH.map((axes) => ({ order, axes })));
const anyAngles = fc.tuple(
  fc.double({ min: -180, max: 180, noNaN: true }),
  fc.double({ min: -180, max: 180, noNaN: true }),
  fc.double({ min: -180, max: 180, noNaN: true }),
);

describe('a pose stated in another order', () => {
  test.each(EVERY)(
    'of rotations, $order about $axes axes, turns the femur as three does, in 2,000 poses',
    ({ order, axes }) => {
      // Independent implementation: three's Quaternion from Euler, in doubles.
      for (const angles of fc.sample(anyAngles, { numRuns: 2000, seed: 41 })) {
        const found = poseFromStatedOrder(stated(angles, order, axes));
        expect(found.orderAssumed).toBe(false);
        expectTurnsLike(found.pose, quaternion(angles, order, axes));
      }
    },
  );

  test.each(EVERY.filter(({ order, axes }) => order !== ROTATION_ORDERS[0] || axes === 'fixed'))(
    'of rotations, $order about $axes axes, has the angles three decomposes it into, in 2,000 poses',
    ({ order, axes }) => {
      // Independent implementation: three's Euler from Matrix4. Its middle angle is an arc sine, so poses within five
      // degrees of the lock, where that loses digits, are left to the comparison of vectors above.
      let compared = 0;
      for (const angles of fc.sample(anyAngles, { numRuns: 2000, seed: 43 })) {
        const matrix = new Matrix4().makeRotationFromQuaternion(quaternion(angles, order, axes));
        const { x, y, z } = new Euler().setFromRotationMatrix(matrix, 'ZXY');
        if (Math.abs(x / RAD) > 85) continue;
        compared += 1;
        const { pose: found } = poseFromStatedOrder(stated(angles, order, axes));
        expectWithin(sameTurn(found.flexion - z / RAD), 0, ANGLES);
        expectWithin(found.abduction, -x / RAD, ANGLES);
        expectWithin(sameTurn(found.externalRotation + y / RAD), 0, ANGLES);
      }
      expect(compared).toBeGreaterThan(1500);
    },
  );

  /** -180 and 180 are one angle. */
  function sameTurn(difference: number): number {
    return difference - 360 * Math.round(difference / 360);
  }

  test('with one angle only is the same pose in every order, and comes back unchanged', () => {
    for (const angles of [
      [110, 0, 0],
      [0, -25, 0],
      [0, 0, 40],
      [-130, 0, 0],
    ] as const) {
      for (const { order, axes } of EVERY) {
        expect(poseFromStatedOrder(stated(angles, order, axes)).pose).toEqual(pose(angles));
        expectTurnsLike(pose(angles), quaternion(angles, order, axes));
      }
    }
  });

  test('of ours comes back unchanged, also with abduction past 90', () => {
    const angles = [30, 120, -50] as const;
    expect(poseFromStatedOrder(stated(angles, 'flexion-abduction-rotation', 'moving')).pose).toEqual(
      pose(angles),
    );
  });

  test('about fixed axes is the reversed order about moving ones', () => {
    const angles = [70, -20, 35] as const;
    const fixed = poseFromStatedOrder(stated(angles, 'rotation-abduction-flexion', 'fixed')).pose;
    expectWithin(fixed.flexion, 70, ANGLES);
    expectWithin(fixed.abduction, -20, ANGLES);
    expectWithin(fixed.externalRotation, 35, ANGLES);
  });

  test('adduction about the pelvic axis at 90 of flexion turns the thigh about its own shaft', () => {
    // Closed form: the shaft points along X, the axis of that adduction.
    const { pose: found } = poseFromStatedOrder(
      stated([90, -20, -30], 'abduction-flexion-rotation', 'moving'),
    );
    expectWithin(found.flexion, 90, ANGLES);
    expectWithin(found.abduction, 0, ANGLES);
    expectWithin(found.externalRotation, -10, ANGLES);
  });
});

describe('with the thigh straight out to the side', () => {
  // External rotation 90 and then flexion 90 bring the shaft along Z, whatever the abduction between them.
  test('flexion is 0, external rotation takes the whole turn, and the femur stands where the source puts it', () => {
    for (const sign of [1, -1] as const) {
      for (const abduction of [0, 25, -70]) {
        const angles = [90, abduction, 90 * sign] as const;
        const { pose: found } = poseFromStatedOrder(stated(angles, 'rotation-abduction-flexion', 'moving'));
        expect(found.flexion).toBe(0);
        expectWithin(found.abduction, 90 * sign, ANGLES);
        expectTurnsLike(found, quaternion(angles, 'rotation-abduction-flexion', 'moving'));
      }
    }
  });

  test('a hair away from it the femur still stands where the source puts it', () => {
    for (const short of [1e-3, 1e-6, 1e-8, 1e-10]) {
      const angles = [90 - short, 20, 90] as const;
      const { pose: found } = poseFromStatedOrder(stated(angles, 'rotation-abduction-flexion', 'moving'));
      // Below 1e-9 of the sagittal part flexion is dropped, which moves the femur by as little.
      const expected = quaternion(angles, 'rotation-abduction-flexion', 'moving');
      for (const axis of [femurVector(1, 0, 0), femurVector(0, 1, 0), femurVector(0, 0, 1)]) {
        const turned = new Vector3(...axis).applyQuaternion(expected);
        const ours = poseInPelvis(found, axis);
        expect(Math.hypot(ours[0] - turned.x, ours[1] - turned.y, ours[2] - turned.z)).toBeLessThan(2e-9);
      }
    }
  });
});

describe('a source that states no order', () => {
  test('is taken in ours and marked', () => {
    const angles = [90, -15, -30] as const;
    expect(poseFromStatedOrder(pose(angles))).toEqual({ pose: pose(angles), orderAssumed: true });
  });

  test('but says its axes are fixed or moving is refused, since that says nothing alone', () => {
    for (const axes of BOTH) {
      expect(() => poseFromStatedOrder({ ...pose([90, 0, -30]), axes })).toThrow(RangeError);
    }
  });
});
