import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../src/base/units.js';
import {
  angleBetween,
  cross,
  dot,
  femurVector,
  length,
  normalise,
  pelvisVector,
  rotateX,
  rotateY,
  rotateZ,
  type Vec3,
} from '../../src/biomechanics/vector.js';
import { expectWithin } from './tolerance.js';

// Both sides compute in doubles; a few operations on components of size 10 leave errors of about 1e-14.
const ROUNDING = 1e-12;

const component = fc.double({ min: -10, max: 10, noNaN: true });
const vector = fc.tuple(component, component, component).map(([x, y, z]) => pelvisVector(x, y, z));
const direction = vector.filter((v) => length(v) > 0.1);
const angle = fc.double({ min: -360, max: 360, noNaN: true }).map(degrees);

function expectVector(actual: Vec3<'pelvis'>, expected: readonly [number, number, number]): void {
  expectWithin(actual[0], expected[0], ROUNDING);
  expectWithin(actual[1], expected[1], ROUNDING);
  expectWithin(actual[2], expected[2], ROUNDING);
}

function toThree([x, y, z]: Vec3<'pelvis'>): Vector3 {
  return new Vector3(x, y, z);
}

describe('rotations', () => {
  const quarter = degrees(90);

  test('a quarter turn about each axis follows the right-hand rule', () => {
    expectVector(rotateX(quarter, pelvisVector(0, 1, 0)), [0, 0, 1]);
    expectVector(rotateY(quarter, pelvisVector(0, 0, 1)), [1, 0, 0]);
    expectVector(rotateZ(quarter, pelvisVector(1, 0, 0)), [0, 1, 0]);
  });

  // Independent implementation: three's Matrix4 and Vector3, which compute in doubles.
  test.each([
    ['X', rotateX, (t: number) => new Matrix4().makeRotationX(t)],
    ['Y', rotateY, (t: number) => new Matrix4().makeRotationY(t)],
    ['Z', rotateZ, (t: number) => new Matrix4().makeRotationZ(t)],
  ] as const)('rotation about %s agrees with three for every angle and vector', (_axis, rotate, matrixOf) => {
    fc.assert(
      fc.property(angle, vector, (t, v) => {
        const expected = toThree(v).applyMatrix4(matrixOf((t * Math.PI) / 180));
        expectVector(rotate(t, v), [expected.x, expected.y, expected.z]);
      }),
    );
  });
});

describe('products and angles', () => {
  test('dot, cross and length agree with three', () => {
    fc.assert(
      fc.property(vector, vector, (a, b) => {
        const expected = toThree(a).cross(toThree(b));
        expectWithin(dot(a, b), toThree(a).dot(toThree(b)), ROUNDING);
        expectVector(cross(a, b), [expected.x, expected.y, expected.z]);
        expectWithin(length(a), toThree(a).length(), ROUNDING);
      }),
    );
  });

  test('the angle between two directions agrees with three, and does not depend on their order or lengths', () => {
    fc.assert(
      fc.property(direction, direction, (a, b) => {
        // three uses acos, which near 0 and 180 degrees loses half the digits: 1e-8 rad, below 1e-6 degrees.
        expectWithin(angleBetween(a, b), (toThree(a).angleTo(toThree(b)) * 180) / Math.PI, 1e-5);
        const longer = pelvisVector(3 * b[0], 3 * b[1], 3 * b[2]);
        expectWithin(angleBetween(longer, a), angleBetween(a, b), ROUNDING * 100);
      }),
    );
  });

  test('a very small angle keeps its digits, which acos would lose', () => {
    const tiny = degrees(1e-7);
    const turned = rotateZ(tiny, pelvisVector(1, 0, 0));
    expectWithin(angleBetween(pelvisVector(1, 0, 0), turned), 1e-7, 1e-16);
  });

  test('the angle is 0 for the same, 180 for the opposite and 45 for the half-way direction', () => {
    expect(angleBetween(pelvisVector(0, 2, 0), pelvisVector(0, 5, 0))).toBe(0);
    expect(angleBetween(pelvisVector(0, 2, 0), pelvisVector(0, -5, 0))).toBe(180);
    expectWithin(angleBetween(pelvisVector(1, 0, 0), pelvisVector(1, 1, 0)), 45, ROUNDING);
  });

  test('a normalised vector has length one and keeps its direction', () => {
    fc.assert(
      fc.property(direction, (v) => {
        expectWithin(length(normalise(v)), 1, ROUNDING);
        expectWithin(angleBetween(normalise(v), v), 0, ROUNDING * 100);
      }),
    );
  });
});

describe('errors', () => {
  test('the zero vector has no direction and no angle to anything', () => {
    const zero = pelvisVector(0, 0, 0);
    expect(() => normalise(zero)).toThrow(RangeError);
    expect(() => angleBetween(zero, pelvisVector(1, 0, 0))).toThrow(RangeError);
  });

  test.each([
    [Number.NaN, 0, 0],
    [0, Number.POSITIVE_INFINITY, 0],
    [0, 0, Number.NEGATIVE_INFINITY],
  ])('a vector with a component that is not finite is refused (%s, %s, %s)', (x, y, z) => {
    expect(() => pelvisVector(x, y, z)).toThrow(RangeError);
    expect(() => femurVector(x, y, z)).toThrow(RangeError);
  });
});
