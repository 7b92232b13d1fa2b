import { Vector3, type Matrix4 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../src/base/units.js';
import { halfOscillation, neckInLiner } from '../../src/biomechanics/range/half-oscillation.js';
import { elevationShare } from '../../src/biomechanics/range/liner.js';
import { MOTION_DIRECTIONS, poseAlong } from '../../src/biomechanics/motion/motion-direction.js';
import { posedClearance, posedNeck, readyHip } from '../../src/biomechanics/range/prosthetic-margin.js';
import { motionEnd } from '../../src/biomechanics/range/range-of-motion.js';
import { meshEnd, meshHalf, meshHip, meshJoint, type MeshEnd } from './mesh-contact.js';
import { LEAN_CASES, MOTION_CASES } from './mesh-cases.js';
import {
  LINER_KINDS,
  NECK_KINDS,
  randomDesigns,
  randomLeans,
  type Design,
  type LeanDesign,
} from './mesh-designs.js';
import { cupOpening, femurFrame, linerFrame, neckFrame, posedFemur, turnedOpening } from './mesh-hip.js';
import { expectWithin } from './tolerance.js';

/*
 * Independent implementation: the same solids as triangle meshes (mesh-solids.ts), moved by three's rotations of bone
 * landmarks (mesh-hip.ts), collided by three-mesh-bvh (mesh-contact.ts). Nothing of the code under test but its types
 * is used there.
 *
 * The bar is 0.05 degrees. The meshes' chords are worth up to 0.004 degrees and the last step of the search 0.001; where
 * a motion runs nearly along the contact both grow. Seen: 200 motions, 191 of them to contact, 0.0009 on average and
 * 0.0029 at most; 60 leans 0.0007 and 0.0029. No kind of liner or neck stands out, and no design needs an excuse.
 */
const BAR = 0.05;

// Landmarks and formulas of the geometry conventions, to rounding.
const ROUNDING = 1e-12;

function expectDirection(actual: Vector3, expected: readonly [number, number, number], tolerance = ROUNDING) {
  expectWithin(actual.x, expected[0], tolerance);
  expectWithin(actual.y, expected[1], tolerance);
  expectWithin(actual.z, expected[2], tolerance);
}

function column(frame: Matrix4, index: number): Vector3 {
  return new Vector3().setFromMatrixColumn(frame, index);
}

describe('the hip the meshes stand in', () => {
  test('at 90 degrees of flexion the knee is in front and the toes point up', () => {
    const { knee, forward } = posedFemur(90, 0, 0);
    expectDirection(knee.normalize(), [1, 0, 0]);
    expectDirection(forward, [0, 1, 0]);
  });

  test('at 40 degrees of external rotation the toes point forward and outward', () => {
    // Printed to two decimals.
    expectDirection(posedFemur(0, 0, 40).forward, [0.77, 0, 0.64], 0.005);
  });

  test('abduction takes the knee outward, and the neutral femur stands in the axes of the pelvis', () => {
    expectDirection(posedFemur(0, 30, 0).knee.normalize(), [0, -Math.sqrt(3) / 2, 0.5]);
    const neutral = femurFrame(posedFemur(0, 0, 0));
    expectDirection(column(neutral, 0), [1, 0, 0]);
    expectDirection(column(neutral, 1), [0, 1, 0]);
    expectDirection(column(neutral, 2), [0, 0, 1]);
  });

  // Closed form: (sin RA, -cos RA cos RI, cos RA sin RI).
  test('a cup at 40/15 opens along (0.2588, -0.7399, 0.6209)', () => {
    const cup = { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) } as const;
    expectDirection(cupOpening(cup), [0.2588, -0.7399, 0.6209], 5e-5);
  });

  // Closed form, printed to four decimals; the flats of a neck without version face straight forward.
  test('a stem at 15/135 has its neck along (-0.1830, -0.7071, 0.6830), one without version its flats forward', () => {
    const stem = { anteversion: degrees(15), neckShaftAngle: degrees(135) };
    expectDirection(column(neckFrame(stem), 2), [-0.183, -0.7071, 0.683], 5e-5);
    expectDirection(column(neckFrame({ ...stem, anteversion: degrees(0) }), 0), [1, 0, 0]);
  });

  test('azimuth 0 of a rim is cranial, 90 anterior, and a face turned toward 90 is more anteverted', () => {
    const lateral = new Vector3(0, 0, 1);
    expectDirection(column(linerFrame(lateral), 1), [0, 1, 0]);
    expectDirection(column(linerFrame(lateral), 0), [1, 0, 0]);
    const opening = new Vector3(0, -1, 1).normalize();
    const turned = turnedOpening(opening, { angle: degrees(10), toward: degrees(90) });
    // Closed form: sin 10 forward, cos 10 / sqrt 2 down and out.
    expectDirection(turned, [0.1736, -0.6964, 0.6964], 5e-5);
  });

  // Closed form: acos(neck / head).
  test('meshes of a 28 mm head and a 12 mm neck give the half oscillation angle of the closed form', () => {
    const liner = {
      bore: millimetres(28),
      centerOffset: millimetres(0),
      wall: millimetres(5),
      opening: degrees(180),
    };
    const half = meshHalf(meshJoint(liner, { diameter: millimetres(12) }), {
      azimuth: degrees(77),
      roll: degrees(0),
    });
    expectWithin(half, (Math.acos(12 / 28) * 180) / Math.PI, 0.005);
  });
});

/** What a failure must tell so that the design can be looked at. */
function told(design: object): string {
  return JSON.stringify(design);
}

describe('200 random hips, moved until neck and rim touch', () => {
  const designs = randomDesigns(20, 200);

  test('every liner meets every neck, and every motion comes up', () => {
    for (const linerKind of LINER_KINDS) {
      for (const neckKind of NECK_KINDS) {
        const count = designs.filter(
          (one) => one.linerKind === linerKind && one.neckKind === neckKind,
        ).length;
        expect(count, `${linerKind}, ${neckKind}`).toBe(5);
      }
    }
    for (const direction of MOTION_DIRECTIONS) {
      expect(designs.filter((one) => one.direction === direction).length, direction).toBeGreaterThan(20);
    }
  });

  test('most motions end by contact, many of them on a raised part of the rim', () => {
    const contacts = designs.flatMap((design) => {
      const end = motionEnd(readyHip(design.hip), design.direction);
      return end.kind === 'contact' ? [{ design, azimuth: end.contactAzimuth }] : [];
    });
    const onRaisedPart = contacts.filter(({ design, azimuth }) => {
      const { elevation } = design.hip.liner;
      return elevation && azimuth !== undefined && elevationShare(elevation, azimuth) > 0;
    });
    expect(contacts.length).toBeGreaterThan(160);
    expect(onRaisedPart.length).toBeGreaterThan(25);
  });

  test.each(LINER_KINDS)(
    '%s: motions of the meshes end as ours do, at the same angle and without clearance',
    (kind) => {
      for (const design of designs.filter(({ linerKind }) => linerKind === kind)) {
        const end = expectSameEnd(design);
        if (end.kind === 'contact') expectNoClearance(design, end.at);
      }
    },
  );
});

/** Both end the same way; where by contact, at the same angle. Returns where the meshes end. */
function expectSameEnd({ hip, direction }: Pick<Design, 'hip' | 'direction'>): MeshEnd {
  const [ours, mesh] = [motionEnd(readyHip(hip), direction), meshEnd(meshHip(hip), direction)];
  const message = `ours ${told(ours)}, mesh ${told(mesh)}: ${told({ hip, direction })}`;
  expect(ours.kind, message).toBe(mesh.kind);
  if (ours.kind === 'contact' && mesh.kind === 'contact') {
    expect(Math.abs(ours.at - mesh.at), message).toBeLessThanOrEqual(BAR);
  }
  return mesh;
}

/**
 * What the library says is left where the meshes touch. It is told straight toward or away from the axis, so it would say
 * nothing of a neck that meets the end of a lip sideways; none of the random hips does so within the bar.
 */
function expectNoClearance({ hip, direction }: Design, at: number): void {
  const ready = readyHip(hip);
  const left = posedClearance(ready, posedNeck(ready, poseAlong(direction, degrees(at))));
  expect(Math.abs(left), `${left} left at ${at}: ${told({ hip, direction })}`).toBeLessThanOrEqual(BAR);
}

function expectSameHalf({ liner, neck, lean }: Omit<LeanDesign, 'linerKind'>): void {
  const ours = halfOscillation(neckInLiner(liner, neck), lean);
  const mesh = meshHalf(meshJoint(liner, neck), lean);
  expect(
    Math.abs(ours - mesh),
    `ours ${ours}, mesh ${mesh}: ${told({ liner, neck, lean })}`,
  ).toBeLessThanOrEqual(BAR);
}

describe('60 random necks, leaned toward one azimuth until they touch', () => {
  const leans = randomLeans(21, 60);

  test.each(LINER_KINDS)('%s: half the oscillation angle of the meshes is ours', (kind) => {
    for (const lean of leans.filter(({ linerKind }) => linerKind === kind)) expectSameHalf(lean);
  });
});

describe('designs in which meshes once found a fault', () => {
  test.each(LEAN_CASES.map((one) => [one.name, one] as const))('%s', (_, lean) => expectSameHalf(lean));

  test.each(MOTION_CASES.map((one) => [one.name, one] as const))('%s', (_, motion) => {
    expectSameEnd(motion);
  });
});
