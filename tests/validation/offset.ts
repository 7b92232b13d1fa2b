import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { filmOffset } from '../../src/biomechanics/tension/film-offset.js';
import { femoralOffsetChangeFromComponents } from '../../src/biomechanics/tension/neck-change.js';
import { projectedGlobalOffsetDifference } from '../../src/biomechanics/tension/projected-differences.js';
import { tension } from '../../src/biomechanics/tension/tension.js';
import { plan } from '../biomechanics/component-plan.js';
import { mean } from '../biomechanics/mean-and-spread.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { recordNamed } from '../rulebook/evidence.js';
import { printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared, oursAlone } from './rows.js';
import type { Section } from './section.js';

const number = z.number();
const LIST = z.array(number);

function offsetOfNecks(): readonly Row[] {
  const table = workedExample('tension', 'head-length-change-by-ccd', {
    inputs: z.object({ CCD_deg: LIST }),
    expected: z.record(z.string(), z.object({ offsetPerMm: number, heightPerMm: number })),
  });
  const necks = table.inputs.CCD_deg.filter((angle) => [125, 135, 145].includes(angle));
  return necks.flatMap((neckShaftAngle) => {
    const perMm = tension(plan({ neckShaftAngle, longer: 1 }));
    const expected = table.expected[String(neckShaftAngle)];
    return [
      compared(table, {
        what: `femoral offset per mm of neck length, in the plane of the neck, neck-shaft angle ${neckShaftAngle}`,
        unit: 'mm/mm',
        reference: printed(expected?.offsetPerMm ?? NaN, { origin: 'derived', decimals: 4 }),
        ours: value(perMm.femoralOffset),
      }),
      compared(table, {
        what: `leg length per mm of neck length, neck-shaft angle ${neckShaftAngle}`,
        unit: 'mm/mm',
        reference: printed(expected?.heightPerMm ?? NaN, { origin: 'derived', decimals: 4 }),
        ours: value(perMm.legLength),
      }),
    ];
  });
}

function offsetOnCt(): readonly Row[] {
  const record = workedExample('tension', 'neck-length-to-offset-ct', {
    inputs: z.object({ CCD_deg: number, rows: z.array(z.object({ neckLength_mm: number })) }),
    expected: z.object({ ctMeasured: z.array(z.object({ subject: z.string(), measuredOffset_mm: number })) }),
  });
  const { CCD_deg, rows } = record.inputs;
  const perMm = femoralOffsetChangeFromComponents(plan({ neckShaftAngle: CCD_deg, longer: 1 }).neck);
  const hips = record.expected.ctMeasured.map(({ subject, measuredOffset_mm }, index) => ({
    subject,
    onCt: measuredOffset_mm,
    ours: perMm * (rows[index]?.neckLength_mm ?? NaN),
  }));
  const [worst] = [...hips].sort((a, b) => Math.abs(b.onCt - b.ours) - Math.abs(a.onCt - a.ours));
  if (worst === undefined) throw new Error('ten hips expected');
  const remark = 'Measured necks are longer than nominal, and landmarks on CT are read with error.';
  return [
    compared(record, {
      what: `femoral offset of ten hips, mean; nominal neck lengths at ${CCD_deg} beside landmarks on CT`,
      unit: 'mm',
      reference: printed(mean(hips.map((hip) => hip.onCt)), { decimals: 1 }),
      ours: value(mean(hips.map((hip) => hip.ours))),
      decimals: 1,
      remark: `${remark} Offsets are published, their mean is taken here.`,
    }),
    compared(record, {
      what: `the hip furthest off (${worst.subject})`,
      unit: 'mm',
      reference: printed(worst.onCt, { decimals: 1 }),
      ours: value(worst.ours),
      decimals: 1,
      remark,
    }),
  ];
}

function offsetOnFilm(): readonly Row[] {
  const record = workedExample('tension', 'projected-offset-rotation', {
    inputs: z.object({ cases: z.array(z.object({ offset3D_mm: number, rotation_deg: number })) }),
    expected: z.object({ offsetAP_mm: LIST }),
  });
  return record.inputs.cases.map(({ offset3D_mm, rotation_deg }, index) =>
    compared(record, {
      what: `femoral offset of ${offset3D_mm} mm as an AP film shows it, femur turned ${rotation_deg} out of the film`,
      unit: 'mm',
      reference: printed(record.expected.offsetAP_mm[index] ?? NaN, { origin: 'derived', decimals: 2 }),
      ours: value(filmOffset({ offset: millimetres(offset3D_mm), rotation: degrees(rotation_deg) })),
    }),
  );
}

function plannedOffset(): readonly Row[] {
  const longer = tension(plan({ longer: 4 }));
  const series = recordNamed('offset-medialise-and-compensate');
  const { value: change } = z
    .object({ value: z.object({ acetabularOffsetChangeMm: number, femoralOffsetChangeMm: number }) })
    .parse(series);
  return [
    oursAlone({
      what: 'femoral offset added by 4 mm of neck at 135, in the plane of the neck',
      unit: 'mm',
      ours: value(longer.femoralOffset),
      decimals: 2,
    }),
    oursAlone({
      what: 'the same in the frontal projection, stem at 15',
      unit: 'mm',
      ours: value(longer.femoralOffsetFrontal),
      decimals: 2,
    }),
    compared(series, {
      what: `change of global offset of a series with ${change.acetabularOffsetChangeMm} mm at the cup and ${change.femoralOffsetChangeMm} mm at the femur`,
      unit: 'mm',
      reference: printed(change.acetabularOffsetChangeMm + change.femoralOffsetChangeMm, {
        origin: 'derived',
        decimals: 1,
      }),
      ours: value(
        projectedGlobalOffsetDifference({
          native: millimetres(0),
          femoralOffsetChange: millimetres(change.femoralOffsetChangeMm),
          centerMedialization: millimetres(-change.acetabularOffsetChangeMm),
        }),
      ),
      remark: 'A sum; holds the signs.',
    }),
  ];
}

export function offset(): Section {
  return {
    title: 'Offset and length',
    paragraphs: [
      'Neck length and neck-shaft angle in the plane of the neck, and what a film shows of them. Trigonometry, except the ten hips on CT.',
    ],
    rows: [...offsetOfNecks(), ...offsetOnCt(), ...offsetOnFilm(), ...plannedOffset()],
  };
}
