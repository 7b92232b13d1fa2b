import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { abductorArmFromInsertion, singleLegStance } from '../../src/biomechanics/force/hip-force.js';
import { workedExample } from './worked-example.js';

const hip = z.object({ subject: z.string() });

/** Landmarks of ten instrumented hips, what was measured in them and what the record computed of them. */
export const tenHips = workedExample('hip-force', 'static-model-versus-invivo-stance', {
  inputs: z.object({
    alpha_deg: z.number(),
    rows: z.array(
      hip.extend({
        hipCentreDistance_mm: z.number(),
        gtLateral_mm: z.number(),
        gtVertical_mm: z.number(),
      }),
    ),
  }),
  expected: z.object({
    predicted: z.array(hip.extend({ h_mm: z.number(), predicted_percentBW: z.number() })),
    measured_percentBW: z.array(hip.extend({ measured: z.number() })),
    meanPredicted: z.number(),
    meanMeasured: z.number(),
    meanAbsoluteError: z.number(),
    withinPlusMinus25Percent: z.number(),
  }),
});

const angle = degrees(tenHips.inputs.alpha_deg);

/**
 * The lever of each hip beside what was measured in it, in percent of body weight. Weight share and arm of the record's
 * formula: 0.81365 and 0.6464 of the distance between the hip centers.
 */
export const stanceOfTenHips = tenHips.inputs.rows.map((row, index) => {
  const abductorArm = abductorArmFromInsertion(
    { lateral: millimetres(row.gtLateral_mm), cranial: millimetres(row.gtVertical_mm) },
    angle,
  );
  const { contact, contactAngle } = singleLegStance({
    partialWeight: 0.81365,
    weightArm: millimetres(0.6464 * row.hipCentreDistance_mm),
    abductorArm,
    abductorAngle: angle,
  });
  const measured = tenHips.expected.measured_percentBW[index]?.measured ?? Number.NaN;
  return { subject: row.subject, abductorArm, predicted: 100 * contact, contactAngle, measured };
});
