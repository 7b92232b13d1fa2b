import { z } from 'zod';
import { correlation, fitLinear } from '../biomechanics/least-squares.js';
import { motionLimit } from '../biomechanics/motion-limits.js';
import { designsOf, oscillation } from '../biomechanics/oscillation.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { evidenceRecord } from './evidence-record.js';
import { fixed, lessThan, printed, spread, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

const LIST = z.array(z.number());
const GRID = z.object({ headDiameterMm: LIST, neckDiameterMm: LIST, centreOutwardMm: LIST });

function insetCenter(): readonly Row[] {
  const record = workedExample('head-neck', 'osc-closed-form-inset', {
    inputs: z.object({ headDiameterMm: z.number(), neckDiameterMm: LIST, centreInsetMm: z.number() }),
    expected: z.object({ oscillationDeg: LIST }),
  });
  const { headDiameterMm, neckDiameterMm, centreInsetMm } = record.inputs;
  return neckDiameterMm.map((neck, index) =>
    compared(record, {
      what: `oscillation angle, head ${headDiameterMm} mm, neck ${neck} mm, center ${centreInsetMm} mm inset`,
      unit: 'deg',
      reference: printed(record.expected.oscillationDeg[index] ?? NaN),
      ours: value(oscillation(headDiameterMm, neck, -centreInsetMm)),
      decimals: 2,
    }),
  );
}

function headsAndNecks(): readonly Row[] {
  const record = workedExample('head-neck', 'osc-head-neck-table', {
    inputs: z.object({ neckDiameterMm: LIST }),
    expected: z.object({ table: z.record(z.string(), LIST) }),
  });
  const neck = 12;
  const column = record.inputs.neckDiameterMm.indexOf(neck);
  return [28, 32, 36].map((head) =>
    compared(record, {
      what: `oscillation angle, head ${head} mm, neck ${neck} mm, center in the opening plane`,
      unit: 'deg',
      reference: printed(record.expected.table[String(head)]?.[column] ?? NaN, {
        origin: 'derived',
        decimals: 2,
      }),
      ours: value(oscillation(head, neck)),
    }),
  );
}

const COEFFICIENTS = [
  ['a', 'constant', 'deg'],
  ['b', 'per mm of head', 'deg/mm'],
  ['c', 'per mm of neck', 'deg/mm'],
  ['d', 'per mm of center outward', 'deg/mm'],
] as const;

function regression(): readonly Row[] {
  const number = z.number();
  const record = workedExample('head-neck', 'osc-regression-125', {
    inputs: GRID,
    expected: z.object({ a: number, b: number, c: number, d: number, correlation: number }),
  });
  const { coefficients, r } = fitLinear(
    designsOf(record.inputs).map((design) => ({
      x: [1, design.head, design.neck, design.center],
      y: design.oscillation,
    })),
  );
  const { headDiameterMm, neckDiameterMm, centreOutwardMm } = record.inputs;
  const guessed = `the grid, chosen to fit: heads ${headDiameterMm.join(', ')}; necks ${neckDiameterMm.join(', ')}; centers ${centreOutwardMm.join(', ')} mm; the abstract says only that there were 125`;
  return [
    ...COEFFICIENTS.map(([letter, name, unit], index) =>
      compared(record, {
        what: `linear fit of oscillation angle over 125 designs: ${name}`,
        unit,
        reference: printed(record.expected[letter], { decimals: 2 }),
        ours: value(coefficients[index] ?? NaN),
        guessed,
        ...(letter === 'c'
          ? {
              remark:
                'The abstract prints the figure without its minus sign; a thicker neck cannot add range.',
            }
          : {}),
      }),
    ),
    compared(record, {
      what: 'correlation of that fit',
      unit: '1',
      reference: printed(record.expected.correlation),
      ours: value(r),
      guessed,
    }),
  ];
}

function flexionOverOscillation(): Row {
  const record = workedExample('range-of-motion', 'rom-flexion-linear-in-osc', {
    inputs: GRID.extend({
      cup: z.object({ inclination: z.number(), anteversion: z.number() }),
      stemAnteversion: z.number(),
      neckShaftAngle: z.number(),
    }),
    expected: z.object({ r2: z.number() }),
  });
  const { cup, stemAnteversion, neckShaftAngle } = record.inputs;
  const angles = designsOf(record.inputs).map((design) => design.oscillation);
  const flexion = angles.map((angle) =>
    motionLimit({ ...cup, stemAnteversion, neckShaftAngle, oscillation: angle }, 'flexion'),
  );
  return compared(record, {
    what: `R² of flexion until contact on oscillation angle, cup ${cup.inclination}/${cup.anteversion}, stem ${stemAnteversion}, neck-shaft angle ${neckShaftAngle}`,
    unit: '1',
    reference: printed(record.expected.r2),
    ours: value(correlation(angles, flexion) ** 2),
    guessed: `the ${angles.length} designs`,
  });
}

/** The change that makes two angles equal, by bisection: the angle rises with the change. */
function changeTo(wanted: number, angleAt: (change: number) => number, most = 5): number {
  let [low, high] = [0, most];
  for (let turn = 0; turn < 60; turn += 1) {
    const middle = (low + high) / 2;
    if (angleAt(middle) < wanted) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function equivalences(): readonly Row[] {
  const steps = z.object({ to32: z.number(), to36: z.number() });
  const record = workedExample('head-neck', 'osc-equivalences', {
    inputs: z.object({ baseNeckMm: z.number() }),
    expected: z.object({ neckThinnerMm: steps, centreOutwardMm: steps }),
  });
  const { baseNeckMm } = record.inputs;
  const { neckThinnerMm, centreOutwardMm } = record.expected;
  const guessed = `base neck ${baseNeckMm} mm, chosen to fit`;
  return ([32, 36] as const).flatMap((head) => {
    const key = `to${head}` as const;
    const wanted = oscillation(head, baseNeckMm);
    return [
      compared(record, {
        what: `how much thinner a neck gives a 28 mm head the oscillation angle of a ${head} mm head`,
        unit: 'mm',
        reference: printed(neckThinnerMm[key]),
        ours: value(changeTo(wanted, (thinner) => oscillation(28, baseNeckMm - thinner))),
        guessed,
      }),
      compared(record, {
        what: `how much further outward a center does the same, to a ${head} mm head`,
        unit: 'mm',
        reference: printed(centreOutwardMm[key]),
        ours: value(changeTo(wanted, (outward) => oscillation(28, baseNeckMm, outward))),
        guessed,
      }),
    ];
  });
}

function dualMobilitySteps(): readonly Row[] {
  const record = workedExample('head-neck', 'osc-modular-dual-mobility-steps', {
    inputs: z.object({ neckDiameterMm: z.number(), cupMm: z.number() }),
    expected: z.object({ publishedSteps: z.object({ from28to32: z.number(), from32to36: z.number() }) }),
  });
  const { neckDiameterMm, cupMm } = record.inputs;
  const step = (from: number, to: number) =>
    oscillation(to, neckDiameterMm) - oscillation(from, neckDiameterMm);
  const { from28to32, from32to36 } = record.expected.publishedSteps;
  const row = (from: number, to: number, gain: number) =>
    compared(record, {
      what: `gain of oscillation angle from a ${from} to a ${to} mm head, neck ${neckDiameterMm} mm, cup ${cupMm} mm`,
      unit: 'deg',
      reference: printed(gain),
      ours: value(step(from, to)),
      decimals: 2,
      guessed: 'a flat rim without chamfer, center in the opening plane',
      ...(to === 36
        ? {
            remark:
              'Real liners of a system are chamfered or inset, each size in its own way; the closed form has a flat rim.',
          }
        : {}),
    });
  return [row(28, 32, from28to32), row(32, 36, from32to36)];
}

/** What the printed gains over fixed heads ask of a mobile liner, if its rim were flat. */
function mobileLiner(): Row {
  const number = z.number();
  const record = evidenceRecord(
    'oscillation-modular-dual-mobility',
    z.object({ vs28: number, vs32: number, vs36: number }),
  );
  const { neckDiameterMm, cupMm } = workedExample('head-neck', 'osc-modular-dual-mobility-steps', {
    inputs: z.object({ neckDiameterMm: number, cupMm: number }),
    expected: z.unknown(),
  }).inputs;
  const { vs28, vs32, vs36 } = record.value;
  const asked = (
    [
      [28, vs28],
      [32, vs32],
      [36, vs36],
    ] as const
  ).map(([head, gain]) => {
    const wanted = oscillation(head, neckDiameterMm) + gain;
    return head + changeTo(wanted, (larger) => oscillation(head + larger, neckDiameterMm), 60);
  });
  return compared(record, {
    what: `mobile liner that gives the printed gains over fixed heads of 28, 32 and 36 mm (${vs28}, ${vs32} and ${vs36}), beside the cup of ${cupMm} mm that must hold it`,
    unit: 'mm',
    reference: lessThan(cupMm),
    ours: spread(asked),
    decimals: 1,
    guessed: `a flat rim without chamfer, center in the opening plane, neck ${neckDiameterMm} mm`,
    remark: `By the closed form ${asked.map((liner) => fixed(liner, 1)).join(', ')} mm, which no cup of ${cupMm} mm holds with a wall about it: the fixed liners of the paper must reach less than a flat rim gives, being chamfered otherwise or inset.`,
  });
}

export function oscillationAngle(): Section {
  return {
    title: 'Oscillation angle',
    paragraphs: [
      'The full angle the neck axis sweeps from rim to rim: round neck, flat rim. One research group printed most of what can be compared; only its abstracts were read, so several grids are guesses.',
    ],
    rows: [
      ...insetCenter(),
      ...headsAndNecks(),
      ...regression(),
      flexionOverOscillation(),
      ...equivalences(),
      ...dualMobilitySteps(),
      mobileLiner(),
    ],
  };
}
