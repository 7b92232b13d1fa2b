import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { cupAnteInclination } from '../../../src/biomechanics/orientation/cup-ante-inclination.js';
import type { CupOrientation } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../../../src/biomechanics/orientation/functional-cup.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

function cup(inclination: number, anteversion: number): CupOrientation<'radiographic'> {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function rolledBack(from: CupOrientation<'radiographic'>, by: number): CupOrientation<'radiographic'> {
  return functionalCupOrientation(from, { referenceTilt: degrees(0), postureTilt: degrees(0 - by) });
}

const anyCup = fc
  .tuple(evenly(5, 85), evenly(-45, 60))
  .map(([inclination, anteversion]) => cup(inclination, anteversion));

describe('ante-inclination', () => {
  const angles = z.object({ RI: z.number(), RA: z.number() });
  const plain = workedExample('pelvic-tilt', 'ante-inclination-40-20', {
    inputs: angles,
    expected: z.object({ AI: z.number() }),
  });
  test(plain.label, () => {
    // Printed to two decimals.
    expectWithin(cupAnteInclination(cup(plain.inputs.RI, plain.inputs.RA)), plain.expected.AI, 0.005 + 1e-9);
  });

  const cohort = workedExample('pelvic-tilt', 'ante-inclination-cohort-mean', {
    inputs: angles,
    expected: z.object({
      AI: z.number(),
      published_mean_AI_measured: z.number(),
      published_mean_AI_calculated: z.number(),
    }),
  });
  test(`of mean angles is the mean measured and the mean calculated (${cohort.label})`, () => {
    // Means printed in whole degrees.
    const { inputs, expected } = cohort;
    const found = cupAnteInclination(cup(inputs.RI, inputs.RA));
    expectWithin(found, expected.AI, 0.005 + 1e-9);
    expectWithin(found, expected.published_mean_AI_measured, 0.5);
    expectWithin(found, expected.published_mean_AI_calculated, 0.5);
  });

  test('follows the printed equation tan AI = tan RA / cos RI (PMID 38994529)', () => {
    fc.assert(
      fc.property(anyCup, (from) => {
        const [ri, ra] = [(from.inclination * Math.PI) / 180, (from.anteversion * Math.PI) / 180];
        const printed = (Math.atan(Math.tan(ra) / Math.cos(ri)) * 180) / Math.PI;
        expectWithin(cupAnteInclination(from), printed, 1e-9);
      }),
      { seed: 111 },
    );
  });

  test('gains a degree for each degree the pelvis rolls back', () => {
    // Closed form: the pelvis turns about the axis that ante-inclination is measured about.
    fc.assert(
      fc.property(anyCup, evenly(-30, 30), (from, roll) => {
        expectWithin(cupAnteInclination(rolledBack(from, roll)), cupAnteInclination(from) + roll, 1e-9);
      }),
      { seed: 112 },
    );
  });

  const change = workedExample('pelvic-tilt', 'validation-ante-inclination-standing-sitting', {
    inputs: z.object({ AI_standing: z.number(), AI_sitting: z.number() }),
    expected: z.object({ delta_AI: z.number(), published_normal_tilt: z.tuple([z.number(), z.number()]) }),
  });
  test(`rises by the published roll from standing to sitting, 25 degrees (${change.label})`, () => {
    const { inputs, expected } = change;
    const [least, most] = expected.published_normal_tilt;
    const standing = rolledBack(cup(40, 0), inputs.AI_standing);
    expectWithin(cupAnteInclination(standing), inputs.AI_standing, 1e-9);
    expectWithin(cupAnteInclination(rolledBack(standing, expected.delta_AI)), inputs.AI_sitting, 1e-9);
    expect(expected.delta_AI).toBeGreaterThan(least);
    expect(expected.delta_AI).toBeLessThan(most);
  });

  test('passes 90 degrees for a cup opened above horizontal, and is refused for no cup', () => {
    expect(cupAnteInclination(cup(100, 20))).toBeGreaterThan(90);
    expect(() => cupAnteInclination(cup(0, 20))).toThrow(RangeError);
    expect(() => cupAnteInclination(cup(40, 90))).toThrow(RangeError);
  });
});
