import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  lumbarFlexion,
  pelvicIncidenceLordosisMismatch,
  pelvicIncidenceResidual,
  spinopelvicMobility,
} from '../../../src/biomechanics/spine/spinopelvic.js';
import { recordNamed } from '../../rulebook/evidence.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

const angle = fc.double({ min: -60, max: 90, noNaN: true });
// Sums of a few angles in doubles.
const EXACT = 1e-12;

describe('spinopelvic mobility', () => {
  const patient = workedExample('spinopelvic', 'hip-spine-2B', {
    inputs: z.object({
      PI: z.number(),
      LL: z.number(),
      SS_standing: z.number(),
      SS_seated: z.number(),
    }),
    expected: z.object({ PI_minus_LL: z.number(), dSS: z.number() }),
  });
  test(patient.label, () => {
    const { inputs, expected } = patient;
    expect(
      spinopelvicMobility({
        angle: 'sacral-slope',
        standing: degrees(inputs.SS_standing),
        seated: degrees(inputs.SS_seated),
      }),
    ).toBe(expected.dSS);
    expect(
      pelvicIncidenceLordosisMismatch({
        pelvicIncidence: degrees(inputs.PI),
        lumbarLordosis: degrees(inputs.LL),
      }),
    ).toBe(expected.PI_minus_LL);
  });

  test('is one number for a rigid pelvis, by whichever of its three angles it is read', () => {
    // Closed form: PI = PT + SS with PI fixed, and a plane fixed in the pelvis turns with it.
    fc.assert(
      fc.property(angle, angle, angle, angle, (incidence, slope, appTilt, roll) => {
        const change = (kind: 'sacral-slope' | 'spinopelvic-tilt' | 'app-tilt', from: number, to: number) =>
          spinopelvicMobility({ angle: kind, standing: degrees(from), seated: degrees(to) });
        expectWithin(change('sacral-slope', slope, slope - roll), roll, EXACT * 100);
        expectWithin(
          change('spinopelvic-tilt', incidence - slope, incidence - (slope - roll)),
          roll,
          EXACT * 100,
        );
        expectWithin(change('app-tilt', appTilt, appTilt - roll), roll, EXACT * 100);
      }),
      { seed: 21 },
    );
  });

  test('of a pelvis that rolls forward on sitting down is negative, and of one that does not move 0', () => {
    const seated = (standing: number, to: number): number =>
      spinopelvicMobility({ angle: 'sacral-slope', standing: degrees(standing), seated: degrees(to) });
    expect(seated(30, 38)).toBe(-8);
    expect(seated(30, 30)).toBe(0);
  });

  test('agrees in sign and size with a cohort that printed slope and tilt apart (Ochi 2016)', () => {
    // Published: 10.1007/s00586-015-4217-2, abstract; slope fell 22.2, tilt printed standing minus sitting as -22.3.
    const value = z
      .object({
        value: z.object({
          dSS: z.tuple([z.number(), z.number()]),
          dPT: z.tuple([z.number(), z.number()]),
        }),
      })
      .parse(recordNamed('spinopelvic-change-hip-disease')).value;
    const bySlope = spinopelvicMobility({
      angle: 'sacral-slope',
      standing: degrees(value.dSS[0]),
      seated: degrees(0),
    });
    const byTilt = spinopelvicMobility({
      angle: 'spinopelvic-tilt',
      standing: degrees(value.dPT[0]),
      seated: degrees(0),
    });
    expect([bySlope, byTilt]).toEqual([22.2, 22.3]);
    // One rigid pelvis: both readings of the same motion, apart by their rounding only.
    expectWithin(bySlope, byTilt, 0.1 + 1e-9);
  });
});

describe('lumbar flexion', () => {
  test('is the lordosis given up: 30 standing and 18 bent forward is 12, and more when it turns to kyphosis', () => {
    // Clinical decisions §10, the fixed posterior pelvis: 30 standing, 18 flexed-seated.
    expect(lumbarFlexion({ standing: degrees(30), flexedSeated: degrees(18) })).toBe(12);
    expect(lumbarFlexion({ standing: degrees(55), flexedSeated: degrees(-5) })).toBe(60);
    expect(lumbarFlexion({ standing: degrees(40), flexedSeated: degrees(40) })).toBe(0);
  });
});

describe('pelvic incidence', () => {
  const flat = workedExample('spinopelvic', 'flatback', {
    inputs: z.object({ PI: z.number(), LL: z.number() }),
    expected: z.object({ PI_minus_LL: z.number() }),
  });
  test(flat.label, () => {
    const { inputs, expected } = flat;
    const found = pelvicIncidenceLordosisMismatch({
      pelvicIncidence: degrees(inputs.PI),
      lumbarLordosis: degrees(inputs.LL),
    });
    expect(found).toBe(expected.PI_minus_LL);
  });

  const theory = workedExample('spinopelvic', 'pi-class-lookup', {
    inputs: z.object({ PI: z.number() }),
    expected: z.object({ LL: z.number() }),
  });
  test(`${theory.label}: the lordosis that theory gives a pelvis leaves a mismatch of -9`, () => {
    // The table prints incidence 48-57: lordosis = incidence + 9.
    expect(
      pelvicIncidenceLordosisMismatch({
        pelvicIncidence: degrees(theory.inputs.PI),
        lumbarLordosis: degrees(theory.expected.LL),
      }),
    ).toBe(-9);
  });

  const identity = workedExample('spinopelvic', 'pi-identity', {
    inputs: z.object({ PT: z.number(), SS: z.number() }),
    expected: z.object({ PI: z.number() }),
  });
  test(`${identity.label}: leaves no residual`, () => {
    const { inputs, expected } = identity;
    const residual = pelvicIncidenceResidual({
      pelvicIncidence: degrees(expected.PI),
      spinopelvicTilt: degrees(inputs.PT),
      sacralSlope: degrees(inputs.SS),
    });
    expect(residual).toBe(0);
  });

  test('leaves a residual of just what one of the three readings is off', () => {
    fc.assert(
      fc.property(angle, angle, angle, (tilt, slope, off) => {
        const residual = (pi: number, pt: number, ss: number): number =>
          pelvicIncidenceResidual({
            pelvicIncidence: degrees(pi),
            spinopelvicTilt: degrees(pt),
            sacralSlope: degrees(ss),
          });
        expectWithin(residual(tilt + slope + off, tilt, slope), off, EXACT * 100);
        expectWithin(residual(tilt + slope, tilt + off, slope), -off, EXACT * 100);
        expectWithin(residual(tilt + slope, tilt, slope + off), -off, EXACT * 100);
      }),
      { seed: 22 },
    );
  });
});
