import { z } from 'zod';
import { cupAnteInclination } from '../../src/biomechanics/orientation/cup-ante-inclination.js';
import { radiographicCup, seen, tiltBetween } from '../biomechanics/tilted-cup.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { recordNamed } from '../rulebook/evidence.js';
import { lessThan, moreThan, printed, printedRange, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

const ANGLES = { RI: z.number(), RA: z.number() };

function turned(id: string): readonly Row[] {
  const record = workedExample('pelvic-tilt', id, {
    inputs: z.object({ ...ANGLES, posterior_tilt: z.number() }),
    expected: z.object(ANGLES),
  });
  const { inputs, expected } = record;
  const found = seen(radiographicCup(inputs.RI, inputs.RA), 0, -inputs.posterior_tilt);
  const cup = `cup at ${inputs.RI}/${inputs.RA} radiographic after ${inputs.posterior_tilt} of posterior tilt`;
  return [
    compared(record, {
      what: `inclination of a ${cup}`,
      unit: 'deg',
      reference: printed(expected.RI, { origin: 'derived', decimals: 2 }),
      ours: value(found.inclination),
    }),
    compared(record, {
      what: `anteversion of a ${cup}`,
      unit: 'deg',
      reference: printed(expected.RA, { origin: 'derived', decimals: 2 }),
      ours: value(found.anteversion),
    }),
  ];
}

function supineToStanding(): readonly Row[] {
  const record = workedExample('pelvic-tilt', 'validation-supine-to-standing', {
    inputs: z.object({ ...ANGLES, posterior_tilt: z.number() }),
    expected: z.object({ published_standing_RI: z.number(), published_standing_RA: z.number() }),
  });
  const { inputs, expected } = record;
  const rows = (tilt: number, guessed: string, remark?: string): readonly Row[] => {
    const found = seen(radiographicCup(inputs.RI, inputs.RA), 0, -tilt);
    const from = `of a series with means ${inputs.RI}/${inputs.RA} supine, for ${tilt} of posterior tilt on standing`;
    const shared = { unit: 'deg', decimals: 2, guessed, ...(remark === undefined ? {} : { remark }) };
    return [
      compared(record, {
        ...shared,
        what: `mean inclination standing ${from}`,
        reference: printed(expected.published_standing_RI),
        ours: value(found.inclination),
      }),
      compared(record, {
        ...shared,
        what: `mean anteversion standing ${from}`,
        reference: printed(expected.published_standing_RA),
        ours: value(found.anteversion),
      }),
    ];
  };
  const others = z
    .object({ value: z.object({ supine_to_standing: z.object({ mean: z.number() }) }) })
    .parse(recordNamed('pelvic-tilt-1517')).value.supine_to_standing.mean;
  return [
    ...rows(inputs.posterior_tilt, 'the tilt, one number chosen to meet both angles'),
    ...rows(
      -others,
      'the tilt, the mean of 1517 other patients',
      'A tilt measured in other people; the series of the angles may have rolled further.',
    ),
  ];
}

/** The tilt is found from the anteversions; the inclination it leads to is the test. */
function seated(id: string, group: 'stiff' | 'hypermobile', remark: string | undefined): readonly Row[] {
  const record = workedExample('pelvic-tilt', id, {
    inputs: z.object({ standing_RI: z.number(), standing_RA: z.number(), sitting_RA: z.number() }),
    expected: z.object({ published_sitting_RI: z.number(), published_tilt_class: z.string() }),
  });
  const { standing_RI, standing_RA, sitting_RA } = record.inputs;
  const standing = radiographicCup(standing_RI, standing_RA);
  const tilt = tiltBetween(standing, sitting_RA);
  const series = `${group} group with means ${standing_RI}/${standing_RA} standing and anteversion ${sitting_RA} seated`;
  const limit = Number(/\d+/.exec(record.expected.published_tilt_class)?.[0]);
  return [
    compared(record, {
      what: `mean inclination seated of a ${series}`,
      unit: 'deg',
      reference: printed(record.expected.published_sitting_RI, {
        tolerance: { by: 0.5, from: 'the record, for means of groups' },
      }),
      ours: value(seen(standing, 0, -tilt).inclination),
      decimals: 2,
      ...(remark === undefined ? {} : { remark }),
    }),
    compared(record, {
      what: `posterior roll on sitting of the ${series}, beside the limit of its class`,
      unit: 'deg',
      reference: group === 'stiff' ? lessThan(limit) : moreThan(limit),
      ours: value(tilt),
      decimals: 2,
      ...(remark === undefined
        ? {}
        : { remark: 'The limit is one for persons, and ours is worked out from means of the group.' }),
    }),
  ];
}

function anteInclination(): readonly Row[] {
  const cohort = workedExample('pelvic-tilt', 'ante-inclination-cohort-mean', {
    inputs: z.object(ANGLES),
    expected: z.object({ published_mean_AI_measured: z.number(), published_mean_AI_calculated: z.number() }),
  });
  const plain = workedExample('pelvic-tilt', 'ante-inclination-40-20', {
    inputs: z.object(ANGLES),
    expected: z.object({ AI: z.number() }),
  });
  const change = workedExample('pelvic-tilt', 'validation-ante-inclination-standing-sitting', {
    inputs: z.object({ AI_standing: z.number(), AI_sitting: z.number() }),
    expected: z.object({ published_normal_tilt: z.tuple([z.number(), z.number()]) }),
  });
  const ofMeans = value(cupAnteInclination(radiographicCup(cohort.inputs.RI, cohort.inputs.RA)));
  const means = `of 440 hips with means ${cohort.inputs.RI}/${cohort.inputs.RA} radiographic`;
  const { AI_standing, AI_sitting } = change.inputs;
  const standing = seen(radiographicCup(40, 0), 0, -AI_standing);
  const roll = tiltBetween(standing, seen(radiographicCup(40, 0), 0, -AI_sitting).anteversion);
  return [
    compared(cohort, {
      what: `mean ante-inclination measured on lateral films ${means}`,
      unit: 'deg',
      reference: printed(cohort.expected.published_mean_AI_measured),
      ours: ofMeans,
      decimals: 2,
    }),
    compared(cohort, {
      what: `mean ante-inclination calculated by the authors ${means}`,
      unit: 'deg',
      reference: printed(cohort.expected.published_mean_AI_calculated),
      ours: ofMeans,
      decimals: 2,
    }),
    compared(plain, {
      what: `ante-inclination of a cup at ${plain.inputs.RI}/${plain.inputs.RA} radiographic, by the printed equation`,
      unit: 'deg',
      reference: printed(plain.expected.AI, { origin: 'derived', decimals: 2 }),
      ours: value(cupAnteInclination(radiographicCup(plain.inputs.RI, plain.inputs.RA))),
    }),
    compared(change, {
      what: `posterior roll that takes ante-inclination from ${AI_standing} standing to ${AI_sitting} seated, beside the range called normal`,
      unit: 'deg',
      reference: printedRange(...change.expected.published_normal_tilt),
      ours: value(roll),
      decimals: 1,
      remark:
        'Ante-inclination rises a degree with each degree of roll by its definition, so this row tests the paper more than the library.',
    }),
  ];
}

export function pelvicTilt(): Section {
  return {
    title: 'Pelvic tilt',
    paragraphs: [
      'A cup fixed in a pelvis that rolls about its transverse axis. Where a series prints four means and no tilt, the tilt is found from the two anteversions, and the inclination it then leads to is the test.',
    ],
    rows: [
      ...turned('tilt-40-15-posterior20'),
      ...turned('tilt-40-15-anterior10'),
      ...supineToStanding(),
      ...seated('validation-stiff-group-sitting', 'stiff', undefined),
      ...seated(
        'validation-hypermobile-group-sitting',
        'hypermobile',
        'Means of a skewed group, and AP films of a pelvis far rolled back, on which an ellipse is read with error.',
      ),
      ...anteInclination(),
    ],
  };
}
