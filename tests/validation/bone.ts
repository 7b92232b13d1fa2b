import { z } from 'zod';
import { SPINE_TYPES, type SpineType } from '../../src/biomechanics/bone/generic-bone-shape.js';
import { MOTION_DIRECTIONS, type MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import { contact, reach, type Change } from '../biomechanics/generic-hip.js';
import { oscillation } from '../biomechanics/oscillation.js';
import { workedExample } from '../biomechanics/worked-example.js';
import {
  fixed,
  lessThan,
  moreThan,
  noGainStated,
  printed,
  printedRange,
  spread,
  value,
} from './reference.js';
import { match } from './row.js';
import type { Row } from './row.js';
import { compared, oursAlone } from './rows.js';
import type { Section } from './section.js';

const number = z.number();
const ANTERIOR = [
  ['flexion', 'flexion'],
  ['internal-rotation-at-90', 'internalRotation'],
] as const;
const NAMES: Readonly<Record<MotionDirection, string>> = {
  flexion: 'flexion',
  extension: 'extension',
  abduction: 'abduction',
  adduction: 'adduction',
  'internal-rotation': 'internal rotation',
  'external-rotation': 'external rotation',
  'internal-rotation-at-90': 'internal rotation at 90 of flexion',
};

function bony<Value extends z.ZodType>(id: string, shape: Value) {
  return workedExample('bony-contact', id, { inputs: z.unknown(), expected: z.object({ value: shape }) });
}

function gain(direction: MotionDirection, change: Change): number {
  return contact(direction, change) - contact(direction);
}

function cadaver(): readonly Row[] {
  const gains = z.object({ flexion: number, internalRotation: number });
  const record = bony(
    'offset-head-size-cadaver-rom-2009',
    z.object({ offsetPlus4Mm: gains, offsetPlus8Mm: gains }),
  );
  const { offsetPlus4Mm, offsetPlus8Mm } = record.expected.value;
  return ANTERIOR.flatMap(([direction, motion]) =>
    (
      [
        [4, offsetPlus4Mm],
        [8, offsetPlus8Mm],
      ] as const
    ).map(([more, published]) =>
      compared(record, {
        what: `gain of ${NAMES[direction]} from ${more} mm more femoral offset, eleven cadaver hips`,
        unit: 'deg',
        reference: printed(published[motion]),
        ours: value(gain(direction, { femoralOffsetChange: more })),
        decimals: 1,
        guessed: 'spine type I; internal rotation read as at 90 of flexion',
        remark:
          'Hips without muscle tone, read up to dislocation, mean of many shapes; the size of our steps is a matter of one chosen scene.',
      }),
    ),
  );
}

/** A high-offset stem in all hips, in those it corrects, and in those it overshoots. */
function highOffset(): readonly Row[] {
  const record = bony(
    'high-offset-rom-gain',
    z.object({
      allLow: number,
      allHigh: number,
      correctiveLow: number,
      correctiveHigh: number,
      overshootLow: number,
      overshootHigh: number,
    }),
  );
  const { allLow, allHigh, correctiveLow, correctiveHigh, overshootLow, overshootHigh } =
    record.expected.value;
  const ending = MOTION_DIRECTIONS.filter((direction) => contact(direction) < Infinity);
  const names = ending.map((one) => NAMES[one]).join(', ');
  const row = (where: string, from: number, range: readonly [number, number], guessed: string): Row =>
    compared(record, {
      what: `gain from a high-offset stem${where} in every direction that bone ends (ours: ${names})`,
      unit: 'deg',
      reference: printedRange(...range),
      ours: spread(ending.map((direction) => step(direction, from, from + 4))),
      decimals: 1,
      guessed,
      remark:
        'Some directions gain far less in ours, and flexion gains more than the range in two of these three rows. The series is of replaced hips, where components end some motions; and another series found less external rotation with more offset.',
    });
  const size = 'that high offset is 4 mm more';
  return [
    row('', 0, [allLow, allHigh], size),
    row(' that makes up a deficit', -4, [correctiveLow, correctiveHigh], `${size}, and the deficit 4 mm`),
    row(' that overshoots', 0, [overshootLow, overshootHigh], `${size}, all of it beyond the own offset`),
  ];
}

function step(direction: MotionDirection, from: number, to: number, spine: SpineType = 'I'): number {
  return (
    contact(direction, { femoralOffsetChange: to }, spine) -
    contact(direction, { femoralOffsetChange: from }, spine)
  );
}

const STEPS = [
  [-4, -8],
  [0, -4],
  [0, 4],
  [4, 8],
  [8, 12],
] as const;

/** Offset changes of one scene are stated with their sign. */
function signed(change: number): string {
  return change > 0 ? `+${change}` : String(change);
}

/** Gains and losses step by step, without a published size. */
function steps(): readonly Row[] {
  return ANTERIOR.flatMap(([direction]) =>
    SPINE_TYPES.flatMap((spine) =>
      STEPS.map(([from, to]) =>
        oursAlone({
          what: `change of ${NAMES[direction]} with the femoral offset going from ${signed(from)} to ${signed(to)} mm, spine type ${spine}`,
          unit: 'deg',
          ours: value(step(direction, from, to, spine)),
          decimals: 1,
        }),
      ),
    ),
  );
}

/** That excess adds little is published; the scene does not show it. */
function excess(): readonly Row[] {
  const record = bony('offset-vs-height-rom-shoji', z.unknown());
  return ANTERIOR.flatMap(([direction]) =>
    SPINE_TYPES.map((spine) =>
      compared(record, {
        what: `${NAMES[direction]}, spine type ${spine}: what the step from +8 to +12 mm of offset adds, less what the step from +4 to +8 adds; the series found little further gain from excess`,
        unit: 'deg',
        reference: lessThan(0),
        ours: value(step(direction, 8, 12, spine) - step(direction, 4, 8, spine)),
        decimals: 1,
        guessed: 'that 8 to 12 mm is excess, and that little means less than the step before',
        remark:
          'The scene does not level off; why was not worked out. One scene of spheres stands beside 101 hips, in which components end some motions too.',
      }),
    ),
  );
}

/** Less offset does not end every motion sooner. */
function lessOffsetBehind(): readonly Row[] {
  return STEPS.slice(0, 2).map(([from, to]) =>
    oursAlone({
      what: `change of extension with the femoral offset going from ${signed(from)} to ${signed(to)} mm`,
      unit: 'deg',
      ours: value(step('extension', from, to)),
      decimals: 1,
      remark: `${fixed(contact('extension'), 1)} at no change, ${fixed(contact('extension', { femoralOffsetChange: to }), 1)} at ${signed(to)} mm: that less offset brings contact sooner fails for extension beyond -4 mm.`,
    }),
  );
}

function spineTypes(): readonly Row[] {
  const record = bony('aiis-types-rom', z.record(z.string(), number));
  const published = (motion: string, type: string): number =>
    record.expected.value[`${motion}${type}`] ?? NaN;
  const sizes = ANTERIOR.flatMap(([direction, motion]) =>
    SPINE_TYPES.map((type) =>
      compared(record, {
        what: `${NAMES[direction]} with an anterior inferior iliac spine of type ${type}, native impinging hips`,
        unit: 'deg',
        reference: printed(published(motion, type)),
        ours: value(contact(direction, {}, type)),
        remark:
          'Native hips that impinge end sooner than a replaced one by bone alone, and the position of their rotation was not read: the sizes are not the same quantity. Only the order is taken over.',
      }),
    ),
  );
  const order = ANTERIOR.flatMap(([direction]) =>
    (
      [
        ['I', 'II'],
        ['II', 'III'],
      ] as const
    ).map(([from, to]) =>
      compared(record, {
        what: `change of ${NAMES[direction]} from spine type ${from} to ${to}`,
        unit: 'deg',
        reference: lessThan(0),
        ours: value(contact(direction, {}, to) - contact(direction, {}, from)),
      }),
    ),
  );
  return [...order, ...sizes];
}

/** Head at which bone takes over from the components, by bisection: beyond it a larger head gains nothing. */
function headWhereBoneTakesOver(direction: MotionDirection): number {
  const bone = contact(direction);
  let [low, high] = [24, 44];
  for (let turn = 0; turn < 50; turn += 1) {
    const middle = (low + high) / 2;
    if (reach(direction, middle) < bone - 1e-9) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function plateau(): readonly Row[] {
  const record = bony('no-rom-benefit-above-36mm-2018', z.object({ romPlateauHeadMm: number }));
  const review = bony('head-diameter-review-2015', z.object({ plateauHeadMm: number }));
  const at = record.expected.value.romPlateauHeadMm;
  const reviewed = review.expected.value.plateauHeadMm;
  const hip = 'neck 12 mm, cup 40/15, stem 15';
  return ANTERIOR.flatMap(([direction]) => [
    compared(review, {
      what: `gain of ${NAMES[direction]} from a head of 32 to one of ${reviewed} mm, ${hip}; the review found clear gains up to ${reviewed}`,
      unit: 'deg',
      reference: moreThan(0),
      ours: value(reach(direction, reviewed) - reach(direction, 32)),
      guessed: 'the hip',
      remark:
        'In ours bone ends these motions already with a smaller head, which hangs on the scene, the neck and the cup; reviews look at many hips and at more than two motions.',
    }),
    compared(record, {
      what: `gain of ${NAMES[direction]} from a head of ${at} to one of 44 mm, ${hip}; the review found no benefit`,
      unit: 'deg',
      reference: noGainStated(),
      ours: value(reach(direction, 44) - reach(direction, at)),
      decimals: 1,
      guessed: 'the hip',
    }),
    oursAlone({
      what: `head from which on bone ends ${NAMES[direction]}, ${hip}, oscillation angle ${oscillation(at, 12).toFixed(1)} at ${at} mm`,
      unit: 'mm',
      ours: value(headWhereBoneTakesOver(direction)),
      decimals: 1,
      remark: 'A property of one generic scene; in a person it lies elsewhere.',
    }),
  ]);
}

/** Published signs, without sizes. */
function signs(): readonly Row[] {
  const any = z.unknown();
  const height = bony('offset-vs-height-rom-shoji', any);
  const version = bony('stem-antetorsion-bony-contact', any);
  const center = bony('high-hip-centre-rom', any);
  const behind =
    'In ours the posterior wall comes down with the cup and is met sooner; why the series gained extension is not known.';
  const opposite =
    'About the shaft a pair of bones feels only its difference in height, and a longer leg and a higher center change that in opposite ways: one pair cannot gain external rotation from both, as two papers together ask.';
  const cases = [
    [height, '5 mm longer leg through the head', { headHeightChange: 5 }, 'flexion', lessThan(0)],
    [
      height,
      '5 mm longer leg through the head',
      { headHeightChange: 5 },
      'internal-rotation-at-90',
      lessThan(0),
    ],
    [height, '5 mm longer leg through the head', { headHeightChange: 5 }, 'external-rotation', moreThan(0)],
    [height, '5 mm shorter leg through the head', { headHeightChange: -5 }, 'flexion', moreThan(0)],
    [
      height,
      '5 mm shorter leg through the head',
      { headHeightChange: -5 },
      'internal-rotation-at-90',
      moreThan(0),
    ],
    [version, 'stem version 10 less', { stemAnteversion: 5 }, 'flexion', lessThan(0)],
    [version, 'stem version 10 less', { stemAnteversion: 5 }, 'internal-rotation-at-90', lessThan(0)],
    [center, 'hip center 10 mm higher', { hipCenterCranial: 10 }, 'flexion', lessThan(0)],
    [center, 'hip center 10 mm higher', { hipCenterCranial: 10 }, 'internal-rotation-at-90', lessThan(0)],
    [center, 'hip center 10 mm higher', { hipCenterCranial: 10 }, 'extension', moreThan(0)],
    [center, 'hip center 10 mm higher', { hipCenterCranial: 10 }, 'external-rotation', moreThan(0)],
  ] as const;
  return cases.map(([record, what, change, direction, sign]) =>
    compared(record, {
      what: `${what}: change of ${NAMES[direction]} until bone meets bone`,
      unit: 'deg',
      reference: sign,
      ours: value(gain(direction, change)),
      ...(record === center && direction === 'extension' ? { remark: behind } : {}),
      ...(record === center && direction === 'external-rotation' ? { remark: opposite } : {}),
      ...('headHeightChange' in change && change.headHeightChange < 0
        ? {
            guessed: 'that the published sign of more length holds the other way round for less',
            remark: 'The generic scene stands near a maximum of internal rotation over height.',
          }
        : {}),
    }),
  );
}

/** Where the size of a step of offset is known to lie, and where not. */
function boundOfSteps(): string {
  const list = (from: number, to: number) =>
    SPINE_TYPES.map((spine) => `${fixed(step('flexion', from, to, spine), 1)} (${spine})`).join(', ');
  return `A bound of 4 to 15 degrees for 4 mm of offset holds for the two gains from 0 to +8 mm with spine types I and II, in flexion and in internal rotation at 90 of flexion. It does not hold for losses, nor for type III: the first 4 mm lost change flexion by ${list(0, -4)}, the first 4 mm gained by ${list(0, 4)}. From +4 mm on the spine no longer ends flexion, and the three types have the same: ${fixed(contact('flexion', { femoralOffsetChange: 4 }), 1)}.`;
}

function leveling(): string {
  const at = [0, 4, 8, 12].map((more) => fixed(contact('flexion', { femoralOffsetChange: more }), 1));
  return `The scene does not show where an effect levels off. Flexion with spine type I is ${at.join(', ')} at 0, 4, 8 and 12 mm more offset: the step from 4 to 8 mm is the smallest, and the next is larger again. Nor does every motion gain: external rotation changes by ${fixed(step('external-rotation', 4, 8), 1)} from +4 to +8 mm.`;
}

export function bone(): Section {
  const signed = [...signs(), ...spineTypes(), ...plateau()].filter(
    ({ reference }) => reference !== undefined && !Number.isFinite(reference.span.high - reference.span.low),
  );
  const broken = signed.filter((row) => match(row) === 'disagrees').length;
  const rows = [
    ...cadaver(),
    ...highOffset(),
    ...signs(),
    ...spineTypes(),
    ...plateau(),
    ...excess(),
    ...steps(),
    ...lessOffsetBehind(),
  ];
  return {
    title: 'Bone against bone',
    paragraphs: [
      `A generic scene of spheres about the hip center: bone of nobody in particular. It is a proposal whose numbers were chosen, within believable anatomy, with published signs and bounds in view. Those that hold below hold by construction and validate nothing; of ${signed.length} signs set beside it ${broken} do not hold even so, besides those of excess offset. Moving every number of the scene by half a millimeter changes the sizes, and some of the orders. Certainty low: it is used for the direction of an effect, never for its size and never for the range of a person.`,
      leveling(),
      boundOfSteps(),
    ],
    rows: rows.map((row) => (row.reference === undefined ? row : { ...row, byConstruction: true })),
  };
}
