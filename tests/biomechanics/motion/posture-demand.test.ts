import fc from 'fast-check';
import { Quaternion, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../../../src/biomechanics/orientation/functional-cup.js';
import { impingementMargin } from '../../../src/biomechanics/range/impingement-margin.js';
import { neckAxis, poseInPelvis, type Pose } from '../../../src/biomechanics/motion/pose.js';
import {
  pelvisRelativePose,
  postureDemand,
  tiltInTask,
  type KnownTilts,
  type Posture,
} from '../../../src/biomechanics/motion/posture-demand.js';
import { femurVector } from '../../../src/biomechanics/vector.js';
import { recordNamed } from '../../rulebook/evidence.js';
import { motionEvidence, publishedMotion } from '../published-motion-sets.js';
import { levelThighFlexion, posteriorTiltIn } from '../seated-hip.js';
import { expectWithin } from '../tolerance.js';

function pose(flexion: number, abduction = 0, externalRotation = 0): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function known(measured: Partial<Record<Posture, number>>, stiffSpine = false): KnownTilts {
  const tilts = Object.entries(measured).map(([posture, tilt]) => [posture, degrees(tilt)] as const);
  return { measured: Object.fromEntries(tilts), stiffSpine };
}

const POSTURES: readonly Posture[] = ['supine', 'standing', 'relaxed-seated', 'flexed-seated'];
const tilt = fc.double({ min: -50, max: 40, noNaN: true });

describe('a thigh against the ground', () => {
  test('flexes the hip by its own angle and the anterior tilt, as turning thigh and pelvis apart shows', () => {
    // Independent implementation: three's Quaternion. The pelvis tilts forward about -Z.
    const angle = fc.double({ min: -150, max: 150, noNaN: true });
    const axis = (x: number, y: number, z: number): Vector3 => new Vector3(x, y, z);
    const turn = (about: Vector3, deg: number): Quaternion =>
      new Quaternion().setFromAxisAngle(about, (deg * Math.PI) / 180);
    fc.assert(
      fc.property(angle, angle, angle, tilt, (f, a, e, anterior) => {
        const thighInGround = turn(axis(0, 0, 1), f)
          .multiply(turn(axis(1, 0, 0), -a))
          .multiply(turn(axis(0, 1, 0), -e));
        const pelvisInGround = turn(axis(0, 0, 1), -anterior);
        const thighInPelvis = pelvisInGround.invert().multiply(thighInGround);
        const expected = axis(0.3, -0.8, 0.5).applyQuaternion(thighInPelvis);
        const found = poseInPelvis(
          pelvisRelativePose(pose(f, a, e), degrees(anterior)),
          femurVector(0.3, -0.8, 0.5),
        );
        expectWithin(found[0], expected.x, 1e-12);
        expectWithin(found[1], expected.y, 1e-12);
        expectWithin(found[2], expected.z, 1e-12);
      }),
      { seed: 51 },
    );
  });

  test('meets the cup as seen in that posture just as the hip meets the cup of the pelvis', () => {
    // Closed form: turning cup and femur together changes no margin. Oscillation angle 130, neck-shaft angle 135.
    fc.assert(
      fc.property(
        tilt,
        fc.double({ min: 60, max: 110, noNaN: true }),
        fc.double({ min: -40, max: 20, noNaN: true }),
        (anterior, flexion, rotation) => {
          const cup = {
            definition: 'radiographic' as const,
            inclination: degrees(40),
            anteversion: degrees(20),
          };
          const seen = functionalCupOrientation(cup, {
            referenceTilt: degrees(0),
            postureTilt: degrees(anterior),
          });
          const hip = {
            neckAxis: neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) }),
            oscillationAngle: degrees(130),
          };
          const onGround = pose(flexion, -10, rotation);
          const inPelvis = pelvisRelativePose(onGround, degrees(anterior));
          expectWithin(
            impingementMargin({ ...hip, cupAxis: cupAxis(cup) }, inPelvis).margin,
            impingementMargin({ ...hip, cupAxis: cupAxis(seen) }, onGround).margin,
            1e-9,
          );
        },
      ),
      { seed: 52 },
    );
  });
});

describe('a chair', () => {
  // Common practice, geometry: the thigh is horizontal.
  const seat = { ...pose(90), posture: 'relaxed-seated' as const };

  test('asks 70 of flexion from a hip whose pelvis rolls back to -20', () => {
    expect(postureDemand(seat, known({ 'relaxed-seated': -20 }))).toEqual({
      kind: 'pose',
      pose: pose(70),
      tiltFrom: 'measured',
    });
  });

  test('asks 90 from one whose stiff spine keeps a standing tilt of 0', () => {
    expect(postureDemand(seat, known({ standing: 0 }, true))).toEqual({
      kind: 'pose',
      pose: pose(90),
      tiltFrom: 'stiff-spine',
    });
  });

  test('asks nothing that can be told while the seated tilt is missing, and says which', () => {
    expect(postureDemand(seat, known({ standing: 0, supine: 4, 'flexed-seated': 1 }))).toEqual({
      kind: 'unknown',
      posture: 'relaxed-seated',
      missing: ['relaxed-seated'],
    });
  });
});

describe('the tilt in a task', () => {
  test('is the one measured in that posture, also where the spine is stiff', () => {
    const all = { supine: 4, standing: -1, 'relaxed-seated': -8, 'flexed-seated': 1 };
    for (const posture of POSTURES) {
      for (const stiff of [false, true]) {
        expect(tiltInTask(posture, known(all, stiff))).toEqual({
          kind: 'known',
          tilt: all[posture],
          from: 'measured',
        });
      }
    }
  });

  test('is inferred in one case only: relaxed on a seat, spine known to be stiff, standing tilt measured', () => {
    for (const posture of POSTURES) {
      for (const stiff of [false, true]) {
        const others = POSTURES.filter((one) => one !== posture).map((one) => [one, 5] as const);
        const found = tiltInTask(posture, known(Object.fromEntries(others), stiff));
        if (posture === 'relaxed-seated' && stiff) {
          expect(found).toEqual({ kind: 'known', tilt: 5, from: 'stiff-spine' });
        } else {
          expect(found).toEqual({ kind: 'unknown', posture, missing: [posture] });
        }
      }
    }
  });

  test('of a stiff spine without any film may be settled by either the seated or the standing one', () => {
    expect(tiltInTask('relaxed-seated', known({}, true))).toEqual({
      kind: 'unknown',
      posture: 'relaxed-seated',
      missing: ['relaxed-seated', 'standing'],
    });
  });
});

/**
 * Published means of hip flexion beside ours for a thigh at 90 against the ground, which no abstract states: so these
 * tests show how near the geometry comes to people, they do not prove it.
 */
describe('published means', () => {
  test.each([
    ['komiyama-squat-post-tha', 80.7, 10.4, 79.6, -1.1],
    ['komiyama-squat-pre-tha', 71.7, 16.6, 73.4, 1.7],
  ])(
    'squatting, %s (abstract): hip flexion %s at a pelvis rolled back %s; ours for a horizontal thigh is %s, %s apart',
    (id, printed, rolledBack, ours, apart) => {
      const record = publishedMotion(id);
      expect(record.flexion).toBe(printed);
      expect(posteriorTiltIn(record.notes)).toBe(rolledBack);
      const flexion = levelThighFlexion(-rolledBack);
      expectWithin(flexion, ours, 1e-9);
      expectWithin(flexion - printed, apart, 1e-9);
    },
  );

  const tilts = z
    .object({ standing_to_flexed_seated: z.object({ mean: z.number() }) })
    .parse(recordNamed('pelvic-tilt-1517')['value']);

  test.each([
    ['volunteers-deep-seated-men', 90.3, 1.5],
    ['volunteers-deep-seated-women', 96.4, -4.6],
  ])(
    'bending forward on a seat, %s (abstract): flexion from standing %s; ours, by the mean tilts of another cohort, is %s apart',
    (id, printed, apart) => {
      // Change of flexion from standing = 90 + change of anterior tilt from standing (pelvic-tilt-1517: +1.8).
      expect(publishedMotion(id).flexion).toBe(printed);
      const flexion = levelThighFlexion(tilts.standing_to_flexed_seated.mean);
      expectWithin(flexion, 91.8, 1e-9);
      expectWithin(flexion - printed, apart, 1e-9);
      // Well inside one standard deviation of the cohort, 16.4 and 18.1.
      expect(Math.abs(flexion - printed)).toBeLessThan(16.4);
    },
  );

  const slope = z
    .object({ dSS: z.tuple([z.number(), z.number()]) })
    .parse(recordNamed('spinopelvic-change-hip-disease')['value']);

  test('relaxed sitting: not reproduced, ours 67.8 beside 80 printed (seated-posture-flexion, abstract), 12.2 apart', () => {
    // A disagreement kept in view. Ours takes the mean roll-back of another cohort (sacral slope 22.2) from a standing
    // tilt of 0; the abstract gives neither the tilt of its own patients nor the reference its flexion is counted from.
    const printed = publishedMotion('seated-posture-flexion').flexion ?? Number.NaN;
    expect(slope.dSS[0]).toBe(22.2);
    const flexion = levelThighFlexion(-slope.dSS[0]);
    expectWithin(flexion, 67.8, 1e-9);
    expectWithin(flexion - printed, -12.2, 1e-9);
  });

  test('relaxed sitting: not reproduced, ours 70 beside 48 in a table of typical values (spinopelvic-normal-lum-table, full text), 22 apart', () => {
    // A disagreement kept in view. The table: sacral slope 40 standing and 20 seated, pelvic-femoral angle 180 and 132.
    // Hip flexion 48 with a pelvis rolled back 20 leaves the thigh at 68 against the ground: a high seat, or a knee
    // end of the femur that lies low on the film, or means of different people.
    const { value } = motionEvidence(
      'spinopelvic-normal-lum-table',
      z.object({
        value: z.object({
          SS_stand: z.tuple([z.number(), z.number()]),
          SS_sit: z.tuple([z.number(), z.number()]),
          PFA_stand: z.tuple([z.number(), z.number()]),
          PFA_sit: z.tuple([z.number(), z.number()]),
        }),
      }),
    );
    const rolledBack = value.SS_stand[0] - value.SS_sit[0];
    const printed = value.PFA_stand[0] - value.PFA_sit[0];
    expect([rolledBack, printed]).toEqual([20, 48]);
    const flexion = levelThighFlexion(-rolledBack);
    expectWithin(flexion, 70, 1e-9);
    expectWithin(flexion - printed, 22, 1e-9);
    expectWithin(printed + rolledBack, 68, 1e-9);
  });
});
