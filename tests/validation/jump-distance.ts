import { z } from 'zod';
import { millimetres } from '../../src/base/units.js';
import { cupAxis } from '../../src/biomechanics/orientation/cup-orientation.js';
import {
  directionalJumpDistance,
  ESCAPES,
  UPWARD_LOAD,
} from '../../src/biomechanics/stability/directional-jump-distance.js';
import { jumpAnatomic, jumpSensitivities, planarInclination } from '../biomechanics/anatomic-jump.js';
import { liner } from '../biomechanics/replaced-hip.js';
import { radiographicCup } from '../biomechanics/tilted-cup.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { evidenceRecord } from './evidence-record.js';
import { fixed, printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared, oursAlone } from './rows.js';
import type { Section } from './section.js';

function sensitivities(): readonly Row[] {
  const number = z.number();
  const record = workedExample('jump-distance', 'jd-sensitivities', {
    inputs: z.object({ headDiameterMm: number }),
    expected: z.object({
      abductionSlopeMmPerDeg: number,
      anteversionSlopeMmPerDeg: number,
      perMmDiameterAt45: number,
      perMmDiameterAt60: number,
      perMmOffset: number,
    }),
  });
  const { inputs, expected } = record;
  const ours = jumpSensitivities(inputs.headDiameterMm);
  const of = `${inputs.headDiameterMm} mm head, anatomic angles`;
  const tolerance = {
    by: 0.02,
    kind: 'ours',
    from: 'ours, set with the evidence for figures of one or two digits',
  } as const;
  const rows = [
    [
      'per degree of abduction, mean of 0 to 80',
      'mm/deg',
      printed(expected.abductionSlopeMmPerDeg),
      ours.abduction,
    ],
    [
      'per degree of anteversion, mean of 0 to 40 at abduction 45',
      'mm/deg',
      printed(expected.anteversionSlopeMmPerDeg),
      ours.anteversion,
    ],
    [
      'per mm of head diameter at abduction 45',
      'mm/mm',
      printed(expected.perMmDiameterAt45),
      ours.diameterAt45,
    ],
    [
      'per mm of head diameter at abduction 60',
      'mm/mm',
      printed(expected.perMmDiameterAt60, { tolerance }),
      ours.diameterAt60,
    ],
    [
      'per mm of head center outward, first mm at abduction 45',
      'mm/mm',
      printed(expected.perMmOffset, { tolerance }),
      ours.offset,
    ],
  ] as const;
  return rows.map(([per, unit, reference, slope]) =>
    compared(record, {
      what: `change of jump distance ${per}; ${of}`,
      unit,
      reference,
      ours: value(slope),
      decimals: 3,
      guessed: 'the equation is recalled, and the spans over which the slopes are taken were chosen to fit',
    }),
  );
}

const LIST = z.array(z.number());

function table(): readonly Row[] {
  const distances = workedExample('jump-distance', 'jd-table-offset-0', {
    inputs: z.object({ anteversionDeg: LIST }),
    expected: z.object({ table: z.record(z.string(), z.record(z.string(), LIST)) }),
  });
  const angles = workedExample('jump-distance', 'jd-planar-inclination', {
    inputs: z.object({ cases: z.array(z.tuple([z.number(), z.number()])) }),
    expected: z.object({ psiDeg: LIST }),
  });
  const anteversion = 15;
  const column = distances.inputs.anteversionDeg.indexOf(anteversion);
  return [
    ...[
      [28, 45],
      [36, 45],
      [36, 60],
    ].map(([head = NaN, abduction = NaN]) =>
      compared(distances, {
        what: `jump distance, ${head} mm head, anatomic ${abduction}/${anteversion}`,
        unit: 'mm',
        reference: printed(distances.expected.table[String(head)]?.[String(abduction)]?.[column] ?? NaN, {
          origin: 'derived',
          decimals: 2,
        }),
        ours: value(jumpAnatomic(head, abduction, anteversion)),
      }),
    ),
    ...angles.inputs.cases.map(([abduction, turned], index) =>
      compared(angles, {
        what: `planar inclination of anatomic ${abduction}/${turned}, in ours the radiographic inclination`,
        unit: 'deg',
        reference: printed(angles.expected.psiDeg[index] ?? NaN, { origin: 'derived', decimals: 2 }),
        ours: value(planarInclination(abduction, turned)),
      }),
    ),
  ];
}

function byDirection(): readonly Row[] {
  return (['superior', 'anterior', 'posterior'] as const).map((way) => {
    const found = directionalJumpDistance({
      cupAxis: cupAxis(radiographicCup(40, 15)),
      liner: liner(36),
      load: UPWARD_LOAD,
      escape: ESCAPES[way],
      penetration: millimetres(0),
    });
    return oursAlone({
      what: `jump distance, ${way}, 36 mm head, cup at 40/15 radiographic, load straight up`,
      unit: 'mm',
      ours: value(found.kind === 'distance' ? found.distance : NaN),
      decimals: 2,
      remark:
        way === 'superior'
          ? 'The published distance in another definition of angles.'
          : 'An extension of ours: no published number was found to hold it against.',
    });
  });
}

/** Where a lip lengthens the way out behind most: at the rim point the head would leave over. */
function lipBehind(): Row {
  const number = z.number();
  const record = evidenceRecord(
    'lip-position-optimum-kinematic-model-2023',
    z.object({
      bestClockRightHip: number,
      at: z.object({ inclination: number, anteversion: number, stemAnteversion: number }),
    }),
  );
  const { bestClockRightHip, at } = record.value;
  const found = directionalJumpDistance({
    cupAxis: cupAxis(radiographicCup(at.inclination, at.anteversion)),
    liner: liner(36),
    load: UPWARD_LOAD,
    escape: ESCAPES.posterior,
    penetration: millimetres(0),
  });
  const azimuth = found.kind === 'distance' ? found.azimuth : NaN;
  return compared(record, {
    what: `place of a lip that adds most jump distance behind, cup ${at.inclination}/${at.anteversion}, stem ${at.stemAnteversion}, right hip`,
    unit: "o'clock",
    reference: printed(bestClockRightHip),
    ours: value(azimuth / 30),
    decimals: 2,
    guessed: 'load straight up and escape straight back: the maneuver was not read',
    remark: `Ours is rim azimuth ${fixed(azimuth, 1)}. The paper compared five places of a lip, so its figure is coarse.`,
  });
}

export function jumpDistance(): Section {
  return {
    title: 'Jump distance',
    paragraphs: [
      'How far the head center moves before an unworn cup lets it over the rim. The five sensitivities were read in the abstract; the equation was not: it is recalled, the spans of the slopes were chosen to fit, and so the five speak for it only weakly.',
    ],
    rows: [...sensitivities(), ...table(), lipBehind(), ...byDirection()],
  };
}
