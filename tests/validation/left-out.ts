import { z } from 'zod';
import { reach } from '../biomechanics/generic-hip.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { evidenceRecord } from './evidence-record.js';
import { table } from './markdown.js';
import { fixed } from './reference.js';
import { readOf, sourceOf, type Cited } from './source.js';

const number = z.number();
const PAIR = z.tuple([number, number]);

interface LeftOut {
  readonly record: Cited;
  /** The published value. */
  readonly what: string;
  readonly why: string;
}

function leftOutRecords(): readonly LeftOut[] {
  const lever = evidenceRecord(
    'osc-angle-flexion-and-dislocation-linearity-2008',
    z.object({ r2LeverOutAngle: number, r2FlexionToDislocation: number }),
  );
  const gain = evidenceRecord('oscillation-modular-dual-mobility', z.object({ vsOnePieceDM: number }));
  const jump = evidenceRecord(
    'jump-distance-modular-dual-mobility',
    z.object({
      vsOnePieceDMmm: PAIR,
      vs36CeramicMm: number,
      vs40CeramicMm: number,
      lateralisationVsDMmm: number,
      lateralisationVsFixedMm: number,
    }),
  );
  const neck = evidenceRecord(
    'osc-angle-closed-form-check-noncircular-neck-2008',
    z.object({ shareOfDirectionsAtMinimumPct: number, shareOfDirectionsAtOrBelow130Pct: number }),
  );
  const fit = z.object({ k: number, exponent: number });
  const lines = evidenceRecord(
    'operative-anteversion-lines-2012',
    z.object({ minInclination: z.object({ normal: fit, severe: fit }) }),
  );
  const { normal, severe } = lines.value.minInclination;
  const bone = workedExample('bony-contact', 'bony-impingement-limits-rom-2012', {
    inputs: z.unknown(),
    expected: z.object({ value: z.object({ singleFactorGainDeg: PAIR, combinedGainDeg: PAIR }) }),
  });
  const { singleFactorGainDeg, combinedGainDeg } = bone.expected.value;
  const squat = evidenceRecord(
    'squat-liner-neck-clearance-in-vivo-2018',
    z.object({ anteriorClearanceMm: number, posteriorClearanceMm: number }),
  );
  const change = z.object({ dRA: number, dRI: number });
  const mobility = evidenceRecord('cup-change-by-mobility', z.object({ normal: change }));
  const native = evidenceRecord('tilt-native-ct', z.object({ per5deg: PAIR }));
  const phantom = evidenceRecord(
    'pelvic-tilt-cup-reading-linear',
    z.object({ inclination_mean_deviation_lt: number }),
  );
  const sockets = evidenceRecord(
    'native-acetabulum-three-definitions',
    z.object({
      anatomic: z.looseObject({ inclination: number }),
      radiographic: z.looseObject({ inclination: number }),
    }),
  );
  const films = evidenceRecord(
    'simulated-radiograph-errors',
    z.object({ new_method: z.looseObject({ mean: number }), Liaw: z.looseObject({ mean: number }) }),
  );
  const larger = (direction: 'flexion' | 'abduction'): string =>
    fixed(reach(direction, 36) - reach(direction, 28), 1);
  return [
    {
      record: lever,
      what: `R² of the lever-out angle and of flexion to dislocation on oscillation angle, ${lever.value.r2LeverOutAngle} and ${lever.value.r2FlexionToDislocation}`,
      why: 'The library has no levering out. The third figure of the paper, for flexion to contact, has a row.',
    },
    {
      record: gain,
      what: `oscillation angle of modular over one-piece dual mobility, ${gain.value.vsOnePieceDM}`,
      why: 'Neither mobile liner nor rim of either was read. The gains over fixed heads have rows.',
    },
    {
      record: jump,
      what: `jump distance of modular against one-piece dual mobility, ${jump.value.vsOnePieceDMmm.join(' to ')} mm, and against fixed heads of 36 and 40 mm, ${jump.value.vs36CeramicMm} and ${jump.value.vs40CeramicMm} mm; centers ${jump.value.lateralisationVsDMmm} and ${jump.value.lateralisationVsFixedMm} mm further out`,
      why: 'Sizes of mobile liners, places of centers and position of the cups are in the full text, which was not read; differences of two unknown sizes can be met at will.',
    },
    {
      record: evidenceRecord('dual-mobility-rom-cad-2013', z.null()),
      what: 'similar motion of dual mobility, 36 mm and 28 mm heads in ten motions, bone included',
      why: `No figure, and "similar" has no bound. In ours, with the generic bone, 36 instead of 28 mm adds ${larger('flexion')} of flexion and ${larger('abduction')} of abduction.`,
    },
    {
      record: evidenceRecord('probabilistic-alignment-rom-2008', z.looseObject({})),
      what: 'share of hips with reduced motion under manual alignment, 3 to 5 %',
      why: 'What motion counts as reduced was not read.',
    },
    {
      record: neck,
      what: `shares of directions that a partly thinned neck leaves at the least oscillation angle, or at or below 130: ${neck.value.shareOfDirectionsAtMinimumPct} and ${neck.value.shareOfDirectionsAtOrBelow130Pct} %`,
      why: 'The section of the neck was not read.',
    },
    {
      record: lines,
      what: `least operative inclination over head-neck ratio, ${normal.k} and ${severe.k} times a power ${normal.exponent} and ${severe.exponent}`,
      why: 'The abstract does not define its general head-neck ratio, and neither set of targets.',
    },
    {
      record: bone,
      what: `gain of motion from one change of design, ${singleFactorGainDeg.join(' to ')}, and from all, ${combinedGainDeg.join(' to ')}`,
      why: 'By how much head, neck and neck-shaft angle were changed is in the full text, which was not read. The bounds of the same paper have rows.',
    },
    {
      record: squat,
      what: `distance of neck and liner in a squat, ${squat.value.anteriorClearanceMm} mm in front and ${squat.value.posteriorClearanceMm} mm behind`,
      why: 'The library gives angles; a distance needs the shape of a neck that was not read. The angle has a row.',
    },
    {
      record: mobility,
      what: `change of anteversion and inclination on sitting with normal mobility, ${mobility.value.normal.dRA} and ${mobility.value.normal.dRI}`,
      why: 'The cup it starts from was not read; the two other groups have rows, and the larger change there disagrees.',
    },
    {
      record: native,
      what: `loss of acetabular anteversion with 5 degrees of forward tilt in native hips, ${native.value.per5deg.join(' to ')}`,
      why: 'Neither the sockets nor the definition of the angle was read.',
    },
    {
      record: phantom,
      what: `mean deviation of inclination with tilt in a phantom, less than ${phantom.value.inclination_mean_deviation_lt}`,
      why: 'Cup and range of tilt were not read.',
    },
    {
      record: sockets,
      what: `inclination of native sockets in three definitions, anatomic ${sockets.value.anatomic.inclination}, radiographic ${sockets.value.radiographic.inclination}`,
      why: 'For any one axis anatomic inclination is not the lesser: labels or reference planes differ from the usual ones, so the means test nothing here.',
    },
    {
      record: films,
      what: `error of anteversion methods on simulated films, means ${films.value.new_method.mean} and ${films.value.Liaw.mean}`,
      why: 'Errors of reading an image; the library starts from what was read.',
    },
  ];
}

/** What was known and has no row, at the end of the page. */
export function leftOut(): string {
  return [
    '## Published values left out',
    'Published results that the evidence holds, that touch on what the library computes, and that have no row. Beside these, the worked examples hold derived tables of which the page shows a part (other cups, tilts, heads and stems, all tested), forces in walking and rising from a chair, for which there is no model here, and printed classes and cut-offs, which are inputs and nothing to compute. Values for which only the outcome in patients was read are no part of this page.',
    table(
      ['What', 'Why left out', 'Source', 'How far read'],
      leftOutRecords().map(({ record, what, why }) => [
        what,
        why,
        sourceOf(record),
        readOf(record, 'published'),
      ]),
    ),
  ].join('\n\n');
}
