import { z } from 'zod';
import { SPINE_TYPES } from '../../src/biomechanics/bone/generic-bone-shape.js';
import { MOTION_DIRECTIONS, type MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import { contact, reach, type Change } from '../biomechanics/generic-hip.js';
import { oscillation } from '../biomechanics/oscillation.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { lessThan, moreThan, printed, printedRange, spread, value } from './reference.js';
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

function highOffset(): Row {
  const record = bony('high-offset-rom-gain', z.object({ allLow: number, allHigh: number }));
  const { allLow, allHigh } = record.expected.value;
  const ending = MOTION_DIRECTIONS.filter((direction) => contact(direction) < Infinity);
  return compared(record, {
    what: `gain from a high-offset stem in every direction that bone ends (ours: ${ending.map((one) => NAMES[one]).join(', ')})`,
    unit: 'deg',
    reference: printedRange(allLow, allHigh),
    ours: spread(ending.map((direction) => gain(direction, { femoralOffsetChange: 4 }))),
    decimals: 1,
    guessed: 'that high offset is 4 mm more',
    remark:
      'Some directions gain far less in ours. The series is of replaced hips, where components end some motions; and another series found less external rotation with more offset.',
  });
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
      reference: printed(0),
      ours: value(reach(direction, 44) - reach(direction, at)),
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
      ...(record === center && Number.isFinite(sign.span.low) ? { remark: opposite } : {}),
      ...('headHeightChange' in change && change.headHeightChange < 0
        ? {
            guessed: 'that the published sign of more length holds the other way round for less',
            remark: 'The generic scene stands near a maximum of internal rotation over height.',
          }
        : {}),
    }),
  );
}

export function bone(): Section {
  return {
    title: 'Bone against bone',
    paragraphs: [
      'A generic scene of spheres about the hip center: bone of nobody in particular. It is a proposal whose numbers were chosen, within believable anatomy, so that published signs, bounds and plateaus hold. That they hold below is therefore no validation; what it misses is information. Moving every number of the scene by half a millimeter changes the sizes, and some of the orders. Certainty low: it is used for the direction of an effect and for where an effect levels off, never for the range of a person.',
    ],
    rows: [...cadaver(), highOffset(), ...signs(), ...spineTypes(), ...plateau()],
  };
}
