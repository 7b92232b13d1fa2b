import fc from 'fast-check';
import { Matrix4, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { oscillationAngle } from '../../../src/biomechanics/range/head-neck.js';
import {
  impingementMargin,
  rimAzimuth,
  worstImpingementMargin,
  type ImpingementGeometry,
} from '../../../src/biomechanics/range/impingement-margin.js';
import { neckAxis, type NamedPose, type Pose } from '../../../src/biomechanics/motion/pose.js';
import { pelvisVector, rotateX, rotateZ, type Vec3 } from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';

// Figures are printed to two decimals.
const PRINTED = 0.005 + 1e-9;

function pose(flexion: number, abduction: number, externalRotation: number): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function named(name: string, flexion: number, abduction: number, externalRotation: number): NamedPose {
  return { name, ...pose(flexion, abduction, externalRotation) };
}

function cupAt(inclination: number, anteversion: number): Vec3<'pelvis'> {
  return cupAxis({
    definition: 'radiographic',
    inclination: degrees(inclination),
    anteversion: degrees(anteversion),
  });
}

/** Cup 40/15, stem 15, neck-shaft angle 135, head 28, neck 12. */
const WORKED: ImpingementGeometry = {
  cupAxis: cupAt(40, 15),
  neckAxis: neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) }),
  oscillationAngle: oscillationAngle({
    head: millimetres(28),
    neck: millimetres(12),
    centerOffset: millimetres(0),
  }),
};

// Closed form, worked out apart from this code when the geometry conventions were laid down; no publication.
const WORKED_POSES = [
  { flexion: 90, abduction: -15, rotation: -30, axisAngle: 67.47, margin: -2.85, azimuth: 41.34 },
  { flexion: 120, abduction: 0, rotation: 0, axisAngle: 62.49, margin: 2.13, azimuth: 25.86 },
  { flexion: 90, abduction: 0, rotation: -45, axisAngle: 72.45, margin: -7.82, azimuth: 25.94 },
  { flexion: -30, abduction: 0, rotation: 0, axisAngle: 47.39, margin: 17.23, azimuth: 267.69 },
  { flexion: 0, abduction: 0, rotation: 40, axisAngle: 51.31, margin: 13.31, azimuth: 242.24 },
  { flexion: -20, abduction: 0, rotation: 35, axisAngle: 63.74, margin: 0.88, azimuth: 255.42 },
] as const;

describe('worked poses', () => {
  test.each(WORKED_POSES)(
    'flexion $flexion, abduction $abduction, external rotation $rotation has margin $margin at azimuth $azimuth',
    (worked) => {
      const found = impingementMargin(WORKED, pose(worked.flexion, worked.abduction, worked.rotation));
      expectWithin(found.axisAngle, worked.axisAngle, PRINTED);
      expectWithin(found.margin, worked.margin, PRINTED);
      expectWithin(found.contactAzimuth ?? Number.NaN, worked.azimuth, PRINTED);
    },
  );
});

describe('the worst margin', () => {
  const poses = WORKED_POSES.map((p, index) => named(`pose ${index}`, p.flexion, p.abduction, p.rotation));

  test('is that of the pose with the least margin, and names it', () => {
    const worst = worstImpingementMargin(WORKED, poses);
    expect(worst.motion).toBe('pose 2');
    expectWithin(worst.margin, -7.82, PRINTED);
    expectWithin(worst.axisAngle, 72.45, PRINTED);
    expectWithin(worst.contactAzimuth ?? Number.NaN, 25.94, PRINTED);
  });

  test('does not depend on the order of the poses', () => {
    fc.assert(
      fc.property(fc.shuffledSubarray(poses, { minLength: poses.length }), (shuffled) => {
        expect(worstImpingementMargin(WORKED, shuffled).motion).toBe('pose 2');
      }),
    );
  });

  test('goes to the earlier of two equal poses, also when they differ only beyond the sixth decimal', () => {
    const first = named('first', 90, 0, -45);
    const second = named('second', 90, 0, -45.0000001);
    expect(impingementMargin(WORKED, second).margin).toBeLessThan(impingementMargin(WORKED, first).margin);
    expect(worstImpingementMargin(WORKED, [first, second]).motion).toBe('first');
    expect(worstImpingementMargin(WORKED, [second, first]).motion).toBe('second');
  });

  test('of no poses at all is refused', () => {
    expect(() => worstImpingementMargin(WORKED, [])).toThrow(RangeError);
  });
});

describe('rim azimuth', () => {
  const axis = cupAt(40, 15);
  const toward = (v: Vec3<'pelvis'>, by: Vec3<'pelvis'>): Vec3<'pelvis'> =>
    pelvisVector(v[0] + by[0], v[1] + by[1], v[2] + by[2]);

  test('is 0 cranial, 90 anterior, 180 caudal and 270 posterior', () => {
    const flat = cupAt(40, 0);
    const up = pelvisVector(0, 1, 0);
    const down = pelvisVector(0, -1, 0);
    expectWithin(rimAzimuth(flat, toward(flat, up)) ?? Number.NaN, 0, 1e-9);
    expectWithin(rimAzimuth(flat, toward(flat, pelvisVector(1, 0, 0))) ?? Number.NaN, 90, 1e-9);
    expectWithin(rimAzimuth(flat, toward(flat, down)) ?? Number.NaN, 180, 1e-9);
    expectWithin(rimAzimuth(flat, toward(flat, pelvisVector(-1, 0, 0))) ?? Number.NaN, 270, 1e-9);
  });

  test('of a direction straight up stays 0 for an anteverted cup', () => {
    expectWithin(rimAzimuth(axis, pelvisVector(0, 1, 0)) ?? Number.NaN, 0, 1e-9);
  });

  // Independent implementation: three turns the cranial rim direction about the cup axis. Cranial to anterior is a
  // negative right-handed turn about an axis that opens laterally.
  test('grows degree by degree as a direction turns about the cup axis from cranial to anterior', () => {
    const threeAxis = new Vector3(axis[0], axis[1], axis[2]);
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 359.999, noNaN: true }),
        fc.double({ min: 1, max: 120, noNaN: true }),
        (azimuth, away) => {
          const rim = new Vector3(0, 1, 0).projectOnPlane(threeAxis).normalize();
          rim.applyAxisAngle(threeAxis, (-azimuth * Math.PI) / 180);
          const lean = (away * Math.PI) / 180;
          const direction = threeAxis
            .clone()
            .multiplyScalar(Math.cos(lean))
            .addScaledVector(rim, Math.sin(lean));
          // A lean of one degree divides by its sine, so errors grow about sixtyfold.
          const found = rimAzimuth(axis, pelvisVector(direction.x, direction.y, direction.z));
          expectWithin(found ?? Number.NaN, azimuth, 1e-9);
        },
      ),
    );
  });

  test('does not exist for a direction along the cup axis, in or out', () => {
    expect(rimAzimuth(axis, axis)).toBeUndefined();
    expect(rimAzimuth(axis, pelvisVector(-axis[0], -axis[1], -axis[2]))).toBeUndefined();
  });

  test('is refused for an axis that does not open laterally', () => {
    expect(() => rimAzimuth(pelvisVector(0, -1, 0), pelvisVector(1, 0, 0))).toThrow(RangeError);
  });
});

describe('properties of the margin', () => {
  const angle = fc.double({ min: -120, max: 120, noNaN: true });
  const poses = fc.tuple(angle, angle, angle).map(([f, a, e]) => pose(f, a, e));

  test('margin and axis angle add up to half the oscillation angle', () => {
    fc.assert(
      fc.property(poses, (p) => {
        const { margin, axisAngle } = impingementMargin(WORKED, p);
        expectWithin(margin + axisAngle, WORKED.oscillationAngle / 2, 1e-12);
      }),
    );
  });

  test('a larger head on the same neck adds half its gain in oscillation to every margin', () => {
    const larger = oscillationAngle({
      head: millimetres(36),
      neck: millimetres(12),
      centerOffset: millimetres(0),
    });
    fc.assert(
      fc.property(poses, (p) => {
        const gain = impingementMargin({ ...WORKED, oscillationAngle: larger }, p).margin;
        const half = (larger - WORKED.oscillationAngle) / 2;
        expectWithin(gain - impingementMargin(WORKED, p).margin, half, 1e-12);
        expect(half).toBeGreaterThan(0);
      }),
    );
  });

  test('a neck straight out of the opening has half the oscillation angle left and no azimuth', () => {
    const neck = WORKED.neckAxis;
    const centered = { ...WORKED, cupAxis: pelvisVector(neck[0], neck[1], neck[2]) };
    const found = impingementMargin(centered, pose(0, 0, 0));
    expectWithin(found.margin, WORKED.oscillationAngle / 2, 1e-12);
    expect(found.contactAzimuth).toBeUndefined();
  });

  test('turning cup and femur together changes no angle between them', () => {
    fc.assert(
      fc.property(angle, fc.double({ min: -30, max: 30, noNaN: true }), (flexion, turn) => {
        const before = impingementMargin(WORKED, pose(flexion, 10, 20));
        const turned = { ...WORKED, cupAxis: rotateZ(degrees(turn), WORKED.cupAxis) };
        const after = impingementMargin(turned, pose(flexion + turn, 10, 20));
        expectWithin(after.margin, before.margin, 1e-10);
      }),
    );
  });

  test.each([0, 360, -10])('an oscillation angle of %s degrees is refused', (oscillation) => {
    const geometry = { ...WORKED, oscillationAngle: degrees(oscillation) };
    expect(() => impingementMargin(geometry, pose(0, 0, 0))).toThrow(RangeError);
  });
});

describe('left and right', () => {
  // Nothing in the library takes a side: a left hip is mirrored (z to -z) once, at the entrance. Here three computes a
  // left hip without mirroring it, in a frame whose Z points to the patient's right, where abduction and external
  // rotation turn the other way.
  test('a left hip mirrored at the entrance has the axis angle of the left hip computed as it lies', () => {
    const rad = Math.PI / 180;
    const angle = fc.double({ min: -100, max: 100, noNaN: true });
    fc.assert(
      fc.property(angle, angle, angle, (f, a, e) => {
        const leftCup = new Vector3(WORKED.cupAxis[0], WORKED.cupAxis[1], -WORKED.cupAxis[2]);
        const leftNeck = new Vector3(WORKED.neckAxis[0], WORKED.neckAxis[1], -WORKED.neckAxis[2]);
        const posed = leftNeck.applyMatrix4(
          new Matrix4()
            .makeRotationZ(f * rad)
            .multiply(new Matrix4().makeRotationX(a * rad))
            .multiply(new Matrix4().makeRotationY(e * rad)),
        );
        // three's angleTo uses acos: half the digits near 0 and 180 degrees.
        expectWithin(impingementMargin(WORKED, pose(f, a, e)).axisAngle, leftCup.angleTo(posed) / rad, 1e-5);
      }),
    );
  });

  test('a mirrored abduction is a different pose, so the comparison above can fail', () => {
    const right = impingementMargin(WORKED, pose(30, 20, 0)).axisAngle;
    const wrong = impingementMargin(WORKED, pose(30, -20, 0)).axisAngle;
    expect(Math.abs(right - wrong)).toBeGreaterThan(10);
    expectWithin(rotateX(degrees(-20), pelvisVector(0, -1, 0))[2], Math.sin((20 * Math.PI) / 180), 1e-12);
  });
});
