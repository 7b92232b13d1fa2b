import { z } from 'zod';
import { degrees, millimetres } from '../../src/base/units.js';
import { versionOnCrossTableLateral } from '../../src/biomechanics/orientation/cross-table-lateral.js';
import { anteversionFromEllipse } from '../../src/biomechanics/orientation/film-reading.js';
import {
  anteversionShown,
  CENTERED,
  cupFromCtVersion,
  image,
  type Place,
} from '../biomechanics/pelvic-film.js';
import { radiographicCup } from '../biomechanics/tilted-cup.js';
import { workedExample, workedExampleIds } from '../biomechanics/worked-example.js';
import { recordNamed } from '../rulebook/evidence.js';
import { printed, spread, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

function ellipses(): readonly Row[] {
  return workedExampleIds('film-reading')
    .filter((id) => id.startsWith('ellipse-'))
    .map((id) => {
      const record = workedExample('film-reading', id, {
        inputs: z.object({ minor_axis_mm: z.number(), major_axis_mm: z.number() }),
        expected: z.object({ RA_magnitude: z.number() }),
      });
      const { minor_axis_mm, major_axis_mm } = record.inputs;
      const shown = anteversionFromEllipse({
        minorAxis: millimetres(minor_axis_mm),
        majorAxis: millimetres(major_axis_mm),
      });
      return compared(record, {
        what: `size of radiographic anteversion from an ellipse of ${minor_axis_mm} by ${major_axis_mm} mm, parallel beam`,
        unit: 'deg',
        reference: printed(record.expected.RA_magnitude, { origin: 'derived', decimals: 2 }),
        ours: value(shown.anteversionSize),
      });
    });
}

function crossTable(): readonly Row[] {
  return workedExampleIds('film-reading')
    .filter((id) => id.startsWith('cross-table-lateral-'))
    .map((id) => {
      const record = workedExample('film-reading', id, {
        inputs: z.object({ RI: z.number(), RA: z.number(), phi: z.number() }),
        expected: z.object({ version_read: z.number() }),
      });
      const { RI, RA, phi } = record.inputs;
      return compared(record, {
        what: `version on a cross-table lateral of a cup at ${RI}/${RA} radiographic, image horizontal ${phi} from the long axis`,
        unit: 'deg',
        reference: printed(record.expected.version_read, { origin: 'derived', decimals: 2 }),
        ours: value(versionOnCrossTableLateral(radiographicCup(RI, RA), degrees(phi))),
      });
    });
}

function beamCentering(): readonly Row[] {
  const angles = z.object({ RI: z.number(), RA: z.number() });
  const record = workedExample('film-reading', 'beam-centring-40-15', {
    inputs: angles,
    expected: z.object({ hip_centred: angles, lateral90: angles, lateral90_below40: angles }),
  });
  const { inputs, expected } = record;
  const films = [
    ['centered on the hip', CENTERED, expected.hip_centred],
    ['90 mm beside the hip', { lateral: 90, cranial: 0 }, expected.lateral90],
    ['90 mm beside and 40 mm above the hip', { lateral: 90, cranial: -40 }, expected.lateral90_below40],
  ] as const;
  return films.flatMap(([beam, place, reading]) => {
    const rim = image(inputs.RI, inputs.RA, place);
    const of = `of a cup at ${inputs.RI}/${inputs.RA} radiographic, beam ${beam}`;
    return [
      compared(record, {
        what: `inclination read ${of}`,
        unit: 'deg',
        reference: printed(reading.RI, { origin: 'derived', decimals: 2 }),
        ours: value(rim.inclination),
      }),
      compared(record, {
        what: `anteversion read ${of}`,
        unit: 'deg',
        reference: printed(reading.RA, { origin: 'derived', decimals: 2 }),
        ours: value(anteversionShown(rim)),
      }),
    ];
  });
}

const INCLINATIONS = [40, 45] as const;
const ASIDE: readonly Place[] = [
  { lateral: 90, cranial: 0 },
  { lateral: 90, cranial: -40 },
];
const ASSUMED_CUP = 'inclination 40 or 45; that version on CT is the anatomic one';
const ASSUMED_BEAM =
  'hip 90 mm beside the beam and 0 or 40 mm caudal of it, 150 mm above a detector 1000 mm from the source';

/** Mean version of the same 150 hips on CT and on three films. */
function sameHips(): readonly Row[] {
  const record = recordNamed('cup-version-by-projection-2016');
  const means = z
    .object({
      value: z.object({
        ct: z.number(),
        crossTableLateral: z.number(),
        apHip: z.number(),
        apPelvis: z.number(),
      }),
    })
    .parse(record).value;
  const cups = INCLINATIONS.map((inclination) => cupFromCtVersion(inclination, means.ct));
  const gap = means.apHip - means.apPelvis;
  const onFilm = (place: Place) => (cup: (typeof cups)[number]) =>
    anteversionShown(image(cup.inclination, cup.anteversion, place));
  return [
    compared(record, {
      what: `mean version on a cross-table lateral of 150 hips with ${means.ct} on CT`,
      unit: 'deg',
      reference: printed(means.crossTableLateral),
      ours: spread(cups.map((cup) => versionOnCrossTableLateral(cup, degrees(45)))),
      guessed: `${ASSUMED_CUP}; beam at 45 degrees`,
      remark:
        'Tilt of the pelvis on the table stays in a lateral reading and not in one against the pelvis; and what the paper called version on CT is not known here.',
    }),
    compared(record, {
      what: `mean version on a hip-centered AP film of the same hips`,
      unit: 'deg',
      reference: printed(means.apHip),
      ours: spread(cups.map(onFilm(CENTERED))),
      guessed: ASSUMED_CUP,
      remark:
        'Most of the gap between CT and this film is a change of definition, if CT version is the anatomic one.',
    }),
    compared(record, {
      what: 'mean version on a pelvis-centered AP film of the same hips',
      unit: 'deg',
      reference: printed(means.apPelvis),
      ours: spread(ASIDE.flatMap((place) => cups.map(onFilm(place)))),
      guessed: `${ASSUMED_CUP}; ${ASSUMED_BEAM}`,
    }),
    compared(record, {
      what: 'version on the hip-centered film minus that on the pelvis-centered film, from the printed hip-centered mean',
      unit: 'deg',
      reference: printed(gap, { decimals: 1 }),
      ours: spread(
        ASIDE.flatMap((place) =>
          INCLINATIONS.map((ri) => means.apHip - anteversionShown(image(ri, means.apHip, place))),
        ),
      ),
      guessed: `inclination 40 or 45; ${ASSUMED_BEAM}`,
    }),
  ];
}

export function filmReading(): Section {
  return {
    title: 'Cups on films',
    paragraphs: [
      'The first rows hold closed forms against other computations. The last four put the mean readings of one published series beside each other: the only ones here that were printed.',
    ],
    rows: [...ellipses(), ...crossTable(), ...beamCentering(), ...sameHips()],
  };
}
