import fc from 'fast-check';
import { Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { circularSections } from '../../../src/biomechanics/orientation/circular-section.js';
import { pelvisVector, type Vec3 } from '../../../src/biomechanics/vector.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';

/** Angle in degrees between two lines, by three, from sine and cosine so that near 0 no digits are lost. */
function between(found: Vec3<'pelvis'>, line: Vector3): number {
  const direction = new Vector3(...found).normalize();
  const other = line.clone().normalize();
  const cosine = Math.abs(direction.dot(other));
  return (Math.atan2(direction.cross(other).length(), cosine) * 180) / Math.PI;
}

function conic(breadth: number, height: number) {
  return circularSections([
    { weight: 1, vector: pelvisVector(0, 1, 0) },
    { weight: height, vector: pelvisVector(0, 0, 1) },
    { weight: -breadth, vector: pelvisVector(1, 0, 0) },
  ]);
}

describe('planes that cut circles from a cone', () => {
  test('of an upright elliptic cone are its two published slopes', () => {
    // Closed form: y^2 + h z^2 = b x^2 less h(x^2 + y^2 + z^2): (1 - h) y^2 = (b + h) x^2, so y / x = sqrt((b + h) / (1 - h)).
    fc.assert(
      fc.property(evenly(0.001, 0.95), evenly(1e-4, 2), (height, breadth) => {
        const slope = Math.sqrt((breadth + height) / (1 - height));
        const [one, other] = conic(breadth, height);
        const planes = [new Vector3(slope, 1, 0), new Vector3(slope, -1, 0)] as const;
        const straight = between(one, planes[0]) + between(other, planes[1]);
        const crossed = between(one, planes[1]) + between(other, planes[0]);
        expectWithin(Math.min(straight, crossed), 0, 1e-9);
      }),
      { seed: 73 },
    );
  });

  test('of a cone pressed flat are that one plane', () => {
    // Limit case; half of the digits of a double.
    for (const normal of circularSections([
      { weight: 0, vector: pelvisVector(0.3, 0.8, 0.1) },
      { weight: 1, vector: pelvisVector(0.1, 0.6, -0.8) },
      { weight: 0, vector: pelvisVector(1, 0, 0) },
    ])) {
      expectWithin(between(normal, new Vector3(0.1, 0.6, -0.8)), 0, 1e-6);
    }
  });

  test('of a round cone is the one across its axis', () => {
    for (const normal of conic(0.5, 1)) expectWithin(between(normal, new Vector3(1, 0, 0)), 0, 1e-6);
    expect(conic(0.5, 1).length).toBe(2);
  });
});
