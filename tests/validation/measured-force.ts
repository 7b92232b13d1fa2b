import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { changedArms } from '../../src/biomechanics/force/hip-force-change.js';
import { correlation } from '../biomechanics/least-squares.js';
import { mean, standardDeviation } from '../biomechanics/mean-and-spread.js';
import { stanceOfTenHips, tenHips } from '../biomechanics/stance-of-ten-hips.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { fixed, printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';

const number = z.number();

/** Forces measured in ten hips on one leg, beside the plane lever of each. */
export function instrumented(): readonly Row[] {
  const measured = workedExample('hip-force', 'invivo-one-legged-stance', {
    inputs: z.unknown(),
    expected: z.object({ mean_percentBW: number, sd_percentBW: number, meanFrontal_deg: number }),
  });
  const { mean_percentBW, sd_percentBW, meanFrontal_deg } = measured.expected;
  const predicted = stanceOfTenHips.map((hip) => hip.predicted);
  const measuredForces = stanceOfTenHips.map((hip) => hip.measured);
  const errors = stanceOfTenHips.map((hip) => hip.predicted / hip.measured - 1);
  const within = errors.filter((error) => Math.abs(error) <= 0.25).length;
  const [worst] = [...stanceOfTenHips].sort(
    (a, b) => Math.abs(b.predicted / b.measured - 1) - Math.abs(a.predicted / a.measured - 1),
  );
  if (worst === undefined) throw new Error('ten hips expected');
  const remark =
    'One muscle in one plane leaves out what other muscles and the swaying trunk do; the pull is put through the trochanter.';
  return [
    compared(measured, {
      what: 'hip contact force on one leg, mean of ten instrumented hips, beside the mean of the plane lever of each',
      unit: '% body weight',
      reference: printed(mean_percentBW),
      ours: value(mean(predicted)),
      decimals: 2,
      remark: `${remark} Ours is ${fixed(100 * (mean(predicted) / mean_percentBW - 1), 1)} % high; ${within} of 10 hips lie within 25 %. Components are published, their mean is taken here.`,
    }),
    compared(measured, {
      what: 'standard deviation between those hips, beside that of the lever',
      unit: '% body weight',
      reference: printed(sd_percentBW),
      ours: value(standardDeviation(predicted)),
      decimals: 2,
      remark: `That two spreads are alike says nothing about one hip: over the ten, lever and measurement correlate with r ${fixed(correlation(predicted, measuredForces), 2)}. Shown for a group, never for a person.`,
    }),
    compared(tenHips, {
      what: `the hip furthest off (${worst.subject})`,
      unit: '% body weight',
      reference: printed(worst.measured, { decimals: 1 }),
      ours: value(worst.predicted),
      decimals: 1,
      remark: `${remark} Off by ${fixed(100 * (worst.predicted / worst.measured - 1), 0)} %.`,
    }),
    compared(measured, {
      what: 'lean of that force in the frontal plane, mean of ten',
      unit: 'deg',
      reference: printed(meanFrontal_deg),
      ours: value(mean(stanceOfTenHips.map((hip) => hip.contactAngle))),
      decimals: 2,
      remark: 'Measured against the shaft, ours against gravity; the lever’s own angle hardly varies.',
    }),
  ];
}

const MUSCLES = {
  gluteusMediusMiddle: 'gluteus medius, middle part',
  gluteusMinimusPosterior: 'gluteus minimus, posterior part (the largest of the table)',
  gluteusMaximusAnterior: 'gluteus maximus, anterior part',
} as const;

/** Abductor arm per millimetre of offset: measured in walking, and by the lever whose arm grows with every millimetre. */
export function armPerOffset(): readonly Row[] {
  const record = workedExample('hip-force', 'moment-arm-percent-per-mm', {
    inputs: z.unknown(),
    expected: z.object({ percentPerMm: z.record(z.string(), number) }),
  });
  const { w_BW, a_mm, h_mm, alpha_deg } = workedExample('hip-force', 'lever-sensitivity-offset-and-centre', {
    inputs: z.object({ w_BW: number, a_mm: number, h_mm: number, alpha_deg: number }),
    expected: z.unknown(),
  }).inputs;
  const lever = {
    partialWeight: w_BW,
    weightArm: millimetres(a_mm),
    abductorArm: millimetres(h_mm),
    abductorAngle: degrees(alpha_deg),
  };
  const plus1 = {
    centerMedialization: millimetres(0),
    globalOffset: millimetres(1),
    trochanter: { lateral: millimetres(0), distal: millimetres(0) },
    lean: millimetres(0),
  };
  const plane = changedArms(lever, plus1, { medializationShare: { low: 1, high: 1 }, percentPerMmOffset: 0 });
  return Object.entries(MUSCLES).map(([muscle, name]) =>
    compared(record, {
      what: `abductor arm gained per mm of offset: ${name}; ours the plane lever with an arm of ${h_mm} mm`,
      unit: '%/mm',
      reference: printed(record.expected.percentPerMm[muscle] ?? NaN, { decimals: 2 }),
      ours: value(100 * (plane.abductorArm.high / h_mm - 1)),
      decimals: 2,
      remark:
        'The plane lever gives every millimeter of offset to the arm. The library therefore reports a range from a measured slope, an input, to the plane lever. Offsets are published, the slope is worked out here.',
    }),
  );
}
