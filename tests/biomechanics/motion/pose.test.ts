import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import { neckAxis, poseInPelvis, type Pose } from '../../../src/biomechanics/motion/pose.js';
import {
  femurVector,
  length,
  rotateX,
  rotateY,
  type Frame,
  type Vec3,
} from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';

// Three rotations of unit vectors in doubles.
const ROUNDING = 1e-12;

const SHAFT = femurVector(0, -1, 0);
const TOES = femurVector(1, 0, 0);

function pose(flexion: number, abduction: number, externalRotation: number): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function expectVector(
  actual: Vec3<Frame>,
  expected: readonly [number, number, number],
  tolerance = ROUNDING,
): void {
  expectWithin(actual[0], expected[0], tolerance);
  expectWithin(actual[1], expected[1], tolerance);
  expectWithin(actual[2], expected[2], tolerance);
}

describe('landmarks', () => {
  test('in neutral position femur and pelvis axes coincide', () => {
    expectVector(poseInPelvis(pose(0, 0, 0), femurVector(0.2, -0.5, 0.7)), [0.2, -0.5, 0.7]);
  });

  test('at 90 degrees of flexion the shaft points forward and the toes point up', () => {
    expectVector(poseInPelvis(pose(90, 0, 0), SHAFT), [1, 0, 0]);
    expectVector(poseInPelvis(pose(90, 0, 0), TOES), [0, 1, 0]);
  });

  test('at 40 degrees of external rotation the toes point forward and outward', () => {
    // Printed to two decimals; exactly (cos 40, 0, sin 40).
    expectVector(poseInPelvis(pose(0, 0, 40), TOES), [0.77, 0, 0.64], 0.005);
  });

  test('abduction moves the knee away from the midline and extension moves it backward', () => {
    expectVector(poseInPelvis(pose(0, 30, 0), SHAFT), [0, -Math.sqrt(3) / 2, 0.5]);
    expectVector(poseInPelvis(pose(-30, 0, 0), SHAFT), [-0.5, -Math.sqrt(3) / 2, 0]);
  });

  test('rotation about the shaft leaves the shaft where it is', () => {
    expectVector(poseInPelvis(pose(90, 20, 35), SHAFT), poseInPelvis(pose(90, 20, 0), SHAFT));
  });
});

describe('the order of motions', () => {
  const angle = fc.double({ min: -180, max: 180, noNaN: true });
  const component = fc.double({ min: -10, max: 10, noNaN: true });

  // Independent implementation: three's Matrix4, multiplied in the stated order.
  test('is flexion, then abduction about the floating axis, then rotation about the shaft, as three computes it', () => {
    const rad = Math.PI / 180;
    fc.assert(
      fc.property(angle, angle, angle, fc.tuple(component, component, component), (f, a, e, [x, y, z]) => {
        const matrix = new Matrix4()
          .makeRotationZ(f * rad)
          .multiply(new Matrix4().makeRotationX(-a * rad))
          .multiply(new Matrix4().makeRotationY(-e * rad));
        const expected = new Vector3(x, y, z).applyMatrix4(matrix);
        expectVector(poseInPelvis(pose(f, a, e), femurVector(x, y, z)), [expected.x, expected.y, expected.z]);
      }),
    );
  });
});

describe('the neck axis', () => {
  // Closed form, rounded to four decimals.
  test('of a stem at 15 degrees with a neck-shaft angle of 135 is (-0.1830, -0.7071, 0.6830)', () => {
    const axis = neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) });
    expectVector(axis, [-0.183, -0.7071, 0.683], 5e-5);
  });

  test('is a lateral direction dropped by the neck-shaft angle and turned backward by the stem anteversion', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -45, max: 60, noNaN: true }),
        fc.double({ min: 110, max: 150, noNaN: true }),
        (anteversion, neckShaftAngle) => {
          const dropped = rotateX(degrees(neckShaftAngle - 90), femurVector(0, 0, 1));
          const turned = rotateY(degrees(0 - anteversion), dropped);
          const axis = neckAxis({
            anteversion: degrees(anteversion),
            neckShaftAngle: degrees(neckShaftAngle),
          });
          expectVector(axis, turned);
          expectWithin(length(axis), 1, ROUNDING);
        },
      ),
    );
  });

  test('of an anteverted stem runs backward from head to neck base, because the neck points forward', () => {
    expect(neckAxis({ anteversion: degrees(20), neckShaftAngle: degrees(130) })[0]).toBeLessThan(0);
    expectWithin(neckAxis({ anteversion: degrees(0), neckShaftAngle: degrees(130) })[0], 0, ROUNDING);
  });

  test.each([
    [90, 135],
    [-90, 135],
    [15, 90],
    [15, 180],
  ])('stem anteversion %s with neck-shaft angle %s is refused', (anteversion, neckShaftAngle) => {
    const stem = { anteversion: degrees(anteversion), neckShaftAngle: degrees(neckShaftAngle) };
    expect(() => neckAxis(stem)).toThrow(RangeError);
  });
});
