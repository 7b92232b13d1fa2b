import { z } from 'zod';
import { degrees } from '../../src/base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
  type CupOrientation,
} from '../../src/biomechanics/orientation/cup-orientation.js';
import { toRadiographic } from '../../src/biomechanics/orientation/mixed-cup-angles.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { printed, value } from './reference.js';
import type { Row } from './row.js';
import { compared } from './rows.js';
import type { Section } from './section.js';

/** Letters of the records: RI and RA radiographic, OI and OA operative, AI and AA anatomic. */
const LETTERS = {
  R: 'radiographic',
  O: 'operative',
  A: 'anatomic',
} as const satisfies Record<string, CupDefinition>;
type Letter = keyof typeof LETTERS;

const ANGLES = z.record(z.string(), z.number());

function cup(
  definition: CupDefinition,
  inclination: number,
  anteversion: number,
): CupOrientation<CupDefinition> {
  return { definition, inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function conversions(id: string, from: Letter, to: readonly Letter[]): readonly Row[] {
  const record = workedExample('cup-orientation', id, { inputs: ANGLES, expected: ANGLES });
  const [inclination, anteversion] = [record.inputs[`${from}I`] ?? NaN, record.inputs[`${from}A`] ?? NaN];
  const axis = cupAxis(cup(LETTERS[from], inclination, anteversion));
  return to.flatMap((letter) => {
    const found = cupOrientationFromAxis(axis, LETTERS[letter]);
    return (['inclination', 'anteversion'] as const).map((angle) =>
      compared(record, {
        what: `${LETTERS[letter]} ${angle} of a cup at ${inclination}/${anteversion} ${LETTERS[from]}`,
        unit: 'deg',
        reference: printed(record.expected[`${letter}${angle === 'inclination' ? 'I' : 'A'}`] ?? NaN, {
          origin: 'derived',
          decimals: 2,
        }),
        ours: value(found[angle]),
      }),
    );
  });
}

function mixedDefinitions(): readonly Row[] {
  const record = workedExample('cup-orientation', 'hybrid-anteversion-conversion', {
    inputs: z.object({ cases: z.array(z.tuple([z.number(), z.number()])) }),
    expected: z.object({ raDeg: z.array(z.number()) }),
  });
  return record.inputs.cases.map(([inclination, anteversion], index) => {
    const found = toRadiographic({
      inclination: { definition: 'radiographic', value: degrees(inclination) },
      anteversion: { definition: 'anatomic', value: degrees(anteversion) },
    });
    return compared(record, {
      what: `radiographic anteversion of a cup at radiographic inclination ${inclination} and anatomic anteversion ${anteversion}`,
      unit: 'deg',
      reference: printed(record.expected.raDeg[index] ?? NaN, { origin: 'derived', decimals: 2 }),
      ours: value(found.kind === 'orientation' ? found.orientation.anteversion : NaN),
    });
  });
}

export function cupDefinitions(): Section {
  return {
    title: 'Cup angles in three definitions',
    paragraphs: [
      'One axis, three pairs of angles. No table of printed conversions was found, so these rows hold the code against another computation by plain rotation matrices, not against the literature.',
    ],
    rows: [
      ...conversions('radiographic-to-others-lewinnek-centre', 'R', ['O', 'A']),
      ...conversions('radiographic-to-others-common-40-20', 'R', ['O', 'A']),
      ...conversions('operative-to-radiographic-40-20', 'O', ['R']),
      ...conversions('anatomic-to-radiographic-50-30', 'A', ['R']),
      ...mixedDefinitions(),
    ],
  };
}
