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
import { printed, value } from './reference.js';
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
  const tolerance = { by: 0.02, from: 'the record, for a figure printed to one or two digits' };
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
      guessed: 'the equation is recalled, and the spans of the slopes were chosen',
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

export function jumpDistance(): Section {
  return {
    title: 'Jump distance',
    paragraphs: [
      'How far the head center moves before an unworn cup lets it over the rim. The five sensitivities were read in the abstract; the equation was not, it is recalled, and they speak for it.',
    ],
    rows: [...sensitivities(), ...table(), ...byDirection()],
  };
}
