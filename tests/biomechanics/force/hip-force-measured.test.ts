import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { populationForce } from '../../../src/biomechanics/force/population-force.js';
import { femurVector, length } from '../../../src/biomechanics/vector.js';
import { mean, standardDeviation } from '../mean-and-spread.js';
import { stanceOfTenHips as hips, tenHips as compared } from '../stance-of-ten-hips.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

const hip = z.object({ subject: z.string() });
const forceShapes = {
  inputs: z.object({ rows: z.array(hip.extend({ x: z.number(), y: z.number(), z: z.number() })) }),
  expected: z.object({
    rows: z.array(hip.extend({ R_percentBW: z.number(), frontal_deg: z.number() })),
    mean_percentBW: z.number(),
    sd_percentBW: z.number(),
    meanFrontal_deg: z.number(),
  }),
};

const stance = workedExample('hip-force', 'invivo-one-legged-stance', forceShapes);

describe('forces measured in instrumented hips', () => {
  // Published components, x lateral, y anterior, z superior; resultants and summary were computed for the dossier. Two decimals.
  test.each(
    (
      [
        [10, stance],
        [10, workedExample('hip-force', 'invivo-level-walking', forceShapes)],
        [9, workedExample('hip-force', 'invivo-standing-up', forceShapes)],
      ] as const
    ).map(([hips, measured]) => [hips, measured.label, measured] as const),
  )('%s hips have the resultants and summary of their components (%s)', (hips, _label, measured) => {
    const { rows, mean_percentBW, sd_percentBW, meanFrontal_deg } = measured.expected;
    const found = measured.inputs.rows.map(({ subject, x, y, z: up }, index) => {
      const row = rows[index];
      expect(row?.subject).toBe(subject);
      const size = length(femurVector(y, up, x));
      const frontal = (Math.atan2(x, -up) * 180) / Math.PI;
      expectWithin(size, row?.R_percentBW ?? Number.NaN, 0.005 + 1e-9);
      expectWithin(frontal, row?.frontal_deg ?? Number.NaN, 0.005 + 1e-9);
      return { size, frontal };
    });
    expect(found).toHaveLength(hips);
    expectWithin(mean(found.map(({ size }) => size)), mean_percentBW, 0.005 + 1e-9);
    expectWithin(standardDeviation(found.map(({ size }) => size)), sd_percentBW, 0.005 + 1e-9);
    expectWithin(mean(found.map(({ frontal }) => frontal)), meanFrontal_deg, 0.005 + 1e-9);
  });
});

describe('the lever beside what was measured', () => {
  const { expected } = compared;

  // Tolerance of the record: 0.5 % of body weight; arms are printed to two decimals.
  test(`ten hips have the arms and forces of the record (${compared.label})`, () => {
    expect(hips).toHaveLength(10);
    hips.forEach(({ subject, abductorArm, predicted, measured }, index) => {
      const row = expected.predicted[index];
      expect(row?.subject).toBe(subject);
      expectWithin(abductorArm, row?.h_mm ?? Number.NaN, 0.005 + 1e-9);
      expectWithin(predicted, row?.predicted_percentBW ?? Number.NaN, 0.5);
      expectWithin(measured, stance.expected.rows[index]?.R_percentBW ?? Number.NaN, 0.05 + 1e-9);
    });
  });

  // The disagreement, held as it is. One muscle and one plane leave out what the other muscles and the swaying trunk do.
  test(`on average the lever is a tenth too high, for one hip by a third (${compared.label})`, () => {
    expectWithin(mean(hips.map(({ predicted }) => predicted)), expected.meanPredicted, 0.05 + 1e-9);
    expectWithin(mean(hips.map(({ measured }) => measured)), expected.meanMeasured, 0.05 + 1e-9);
    const bias = mean(hips.map(({ predicted }) => predicted)) / mean(hips.map(({ measured }) => measured));
    expectWithin(bias, 1.096, 0.001);
    const errors = hips.map(({ predicted, measured }) => predicted - measured);
    expectWithin(mean(errors.map(Math.abs)), expected.meanAbsoluteError, 0.1);
    const shares = hips.map(({ predicted, measured }) => Math.abs(predicted / measured - 1));
    expect(shares.filter((share) => share <= 0.25)).toHaveLength(expected.withinPlusMinus25Percent);
    expectWithin(Math.max(...shares), 0.344, 0.001);
  });

  // Closed form, ours.
  test('for one hip the lever, its average error taken out, lies further off than the plain mean of all', () => {
    const measured = hips.map((one) => one.measured);
    const asMeasured = {
      mean: mean(measured),
      sd: standardDeviation(measured),
      modelMean: mean(hips.map(({ predicted }) => predicted)),
    };
    const offByLever = hips.map((one) => one.measured - populationForce(asMeasured, one.predicted).mean);
    expectWithin(mean(offByLever), 0, 1e-10);
    expectWithin(standardDeviation(offByLever), 35.8, 0.2);
    expectWithin(standardDeviation(measured), 28.7, 0.1);
  });

  // The lever's own angle is 15 to 16 degrees; measured 16.4 on average, 7.6 to 20.1 between hips, against the shaft, not gravity.
  test('the joint force leans as measured, on average', () => {
    expectWithin(mean(hips.map(({ contactAngle }) => contactAngle)), stance.expected.meanFrontal_deg, 1.5);
  });
});

describe('force of a group', () => {
  // Published summary of ten instrumented hips (Bergmann 2016, 10.1371/journal.pone.0155612): 261, SD 29; model mean 286.
  const measured = { mean: 261, sd: 29, modelMean: 286 };

  test('a hip of which the model says its own mean has the measured mean and spread', () => {
    expect(populationForce(measured, 286)).toEqual({ mean: 261, sd: 29, low: 232, high: 290 });
  });

  test('it follows the model in proportion and carries the spread along', () => {
    fc.assert(
      fc.property(fc.double({ min: 100, max: 600, noNaN: true }), (prediction) => {
        const found = populationForce(measured, prediction);
        expectWithin(found.mean / 261, prediction / 286, 1e-12);
        expectWithin(found.sd / found.mean, 29 / 261, 1e-12);
        expectWithin(found.high - found.low, 2 * found.sd, 1e-9);
      }),
      { seed: 48 },
    );
  });

  test.each([
    [{ ...measured, mean: 0 }, 286, 'mean'],
    [{ ...measured, modelMean: 0 }, 286, 'model mean'],
    [measured, 0, 'prediction'],
    [{ ...measured, sd: -1 }, 286, 'standard deviation'],
  ])('%o with a prediction of %s is refused with a message about the %s', (given, prediction, part) => {
    expect(() => populationForce(given, prediction)).toThrow(RangeError);
    expect(() => populationForce(given, prediction)).toThrow(part);
  });
});
