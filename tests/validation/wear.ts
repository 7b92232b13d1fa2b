import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { arcLostToWear } from '../../src/biomechanics/wear/arc-lost-to-wear.js';
import { headPenetration } from '../../src/biomechanics/wear/head-penetration.js';
import { wearVolumeCylinder } from '../../src/biomechanics/wear/wear-volume.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

const number = z.number();
const LIST = z.array(number);

function penetration(): readonly Row[] {
  const material = z.object({ beddingMm: number, rateMmPerYear: number });
  const record = workedExample('wear', 'wear-total-penetration-10y', {
    inputs: z.object({ tYears: number, conventional: material, xlpe: material }),
    expected: z.object({ conventionalMm: number, xlpeMm: number }),
  });
  const { inputs, expected } = record;
  const rows = [
    ['conventional', inputs.conventional, expected.conventionalMm],
    ['cross-linked', inputs.xlpe, expected.xlpeMm],
  ] as const;
  return rows.map(([name, { beddingMm, rateMmPerYear }, total]) =>
    compared(record, {
      what: `head penetration at ${inputs.tYears} years, ${name} polyethylene, ${beddingMm} mm bedding-in, then ${rateMmPerYear} mm a year`,
      unit: 'mm',
      reference: printed(total, { origin: 'derived' }),
      ours: value(
        headPenetration(
          { beddingIn: millimetres(beddingMm), beddingInYears: 0.25, rateMmPerYear },
          inputs.tYears,
        ),
      ),
    }),
  );
}

function volume(): readonly Row[] {
  const record = workedExample('wear', 'wear-volume-cylinder', {
    inputs: z.object({ headDiameterMm: LIST, linearMmPerYear: number }),
    expected: z.object({ volumeMm3PerYear: LIST }),
    notes: z.object({ published: z.object({ linearMmPerYear: number, volumetricMm3PerYear: number }) }),
  });
  const { linearMmPerYear, volumetricMm3PerYear } = record.notes.published;
  const cylinder = (head: number, depth: number) =>
    value(wearVolumeCylinder(millimetres(head), millimetres(depth)));
  return [
    compared(record, {
      what: `yearly wear volume at ${linearMmPerYear} mm a year, cylinder of a 26 mm head`,
      unit: 'mm³',
      reference: printed(volumetricMm3PerYear),
      ours: cylinder(26, linearMmPerYear),
      guessed: 'the head, chosen to fit: its size was not in the part read, and 26 mm is the one that fits',
      remark: 'Suggestive only.',
    }),
    ...record.inputs.headDiameterMm.slice(1).map((head, index) =>
      compared(record, {
        what: `yearly wear volume at ${record.inputs.linearMmPerYear} mm a year, cylinder of a ${head} mm head`,
        unit: 'mm³',
        reference: printed(record.expected.volumeMm3PerYear[index + 1] ?? NaN, {
          origin: 'derived',
          decimals: 1,
        }),
        ours: cylinder(head, record.inputs.linearMmPerYear),
      }),
    ),
  ];
}

function lostArc(head: number, neck: number, depth: number): number {
  return arcLostToWear({
    head: millimetres(head),
    neck: millimetres(neck),
    centerOffset: millimetres(0),
    penetration: millimetres(depth),
    angleToCupAxis: degrees(0),
  });
}

function arcLost(): readonly Row[] {
  const slope = workedExample('head-neck', 'osc-regression-125', {
    inputs: z.unknown(),
    expected: z.object({ d: number }),
  });
  const table = workedExample('head-neck', 'osc-axial-penetration', {
    inputs: z.object({ neckDiameterMm: number, axialPenetrationMm: LIST }),
    expected: z.object({ table: z.record(z.string(), LIST) }),
  });
  const { neckDiameterMm, axialPenetrationMm } = table.inputs;
  const depth = 2;
  const arcs = table.expected.table['28'] ?? [];
  return [
    compared(slope, {
      what: `arc lost to the first mm of wear along the cup axis, head 28 mm, neck ${neckDiameterMm} mm, beside the slope of a regression over many heads and necks`,
      unit: 'deg',
      reference: printed(slope.expected.d, {
        decimals: 2,
        tolerance: { by: 0.5, kind: 'ours', from: 'ours, because one pair is not the mean of a grid' },
      }),
      ours: value(lostArc(28, neckDiameterMm, 1)),
      guessed: 'that wear along the axis acts as an inset',
    }),
    compared(table, {
      what: `arc lost to ${depth} mm of wear along the cup axis, head 28 mm, neck ${neckDiameterMm} mm`,
      unit: 'deg',
      reference: printed((arcs[0] ?? NaN) - (arcs[axialPenetrationMm.indexOf(depth)] ?? NaN), {
        origin: 'derived',
        decimals: 2,
        tolerance: { by: 0.01, kind: 'rounding', from: 'two figures of two decimals are subtracted' },
      }),
      ours: value(lostArc(28, neckDiameterMm, depth)),
    }),
  ];
}

export function wear(): Section {
  return {
    title: 'Wear',
    paragraphs: [
      'Penetration is a straight line after bedding-in; its volume is that of a cylinder, an upper bound for oblique wear. Of the depth, only the part along the cup axis costs arc. A worn liner has no jump distance: its cavity is not known.',
    ],
    rows: [...penetration(), ...volume(), ...arcLost()],
  };
}
