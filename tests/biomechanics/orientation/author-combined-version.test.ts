import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  authorCombinedVersion,
  cupOnVersionLine,
  versionBesideLine,
  type VersionLine,
} from '../../../src/biomechanics/orientation/author-combined-version.js';
import { cupAnteversionForStem } from '../../../src/biomechanics/orientation/combined-anteversion.js';
import {
  radiographicToAnatomic,
  radiographicToOperative,
  type CupDefinition,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

// Published lines, as the records print them; the library takes them as inputs.
/** Widmer and Zurfluh 2004, radiographic inclination 40-45: read in a paper that cites it. */
const LINE_37 = {
  anteversion: 'radiographic',
  inclination: 'not-added',
  stemWeight: 0.7,
  sum: degrees(37.3),
} as const;
/** 10.15106/J00764.2007038004, abstract: cup abduction + anatomic anteversion + 0.77 neck, neck-shaft angle 135. */
const LINE_84 = {
  anteversion: 'anatomic',
  inclination: 'radiographic',
  stemWeight: 0.77,
  sum: degrees(84.3),
} as const;
/** Chin J Biomed Eng 2012, 31(1), 103, abstract: operative, normal and severe targets, neck-shaft angle 135. */
const LINE_41 = {
  anteversion: 'operative',
  inclination: 'not-added',
  stemWeight: 0.728,
  sum: degrees(40.916),
} as const;
const LINE_46 = { ...LINE_41, stemWeight: 0.7384, sum: degrees(46.456) } as const;
const LINES: readonly VersionLine[] = [LINE_37, LINE_84, LINE_41, LINE_46];

type Cup = CupOrientation<'radiographic'>;

function cup(inclination: number, anteversion: number): Cup {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function onLine(definition: CupDefinition, inclination: number, stem: number, line: VersionLine): Cup {
  const found = cupOnVersionLine(
    { inclination: { definition, value: degrees(inclination) }, stemAnteversion: degrees(stem) },
    line,
  );
  if (found.kind === 'none') throw new Error(found.why);
  return found.orientation;
}

const anyCup = fc
  .tuple(evenly(20, 70), evenly(-30, 50))
  .map(([inclination, anteversion]) => cup(inclination, anteversion));
const anyStem = evenly(-20, 40);

describe('combined version by an author’s own definition', () => {
  test('is 35.0, 40.4 or 44.5 degrees for one hip, as the author takes the cup', () => {
    // Closed form: 40/20 radiographic is 25.41 operative and 29.52 anatomic (record radiographic-to-others-common-40-20).
    const sums = (['radiographic', 'operative', 'anatomic'] as const).map((anteversion) =>
      authorCombinedVersion(
        { cup: cup(40, 20), stemAnteversion: degrees(15) },
        { anteversion, inclination: 'not-added', stemWeight: 1 },
      ),
    );
    for (const [index, expected] of [35, 40.41, 44.52].entries())
      expectWithin(sums[index] ?? NaN, expected, 0.006);
  });

  test('adds the inclination of the author’s definition where the author adds it', () => {
    // Closed form, from the two conversions.
    fc.assert(
      fc.property(anyCup, anyStem, (one, stem) => {
        const hip = { cup: one, stemAnteversion: degrees(stem) };
        const found = authorCombinedVersion(hip, {
          anteversion: 'anatomic',
          inclination: 'operative',
          stemWeight: 0.5,
        });
        const parts = radiographicToAnatomic(one).anteversion + radiographicToOperative(one).inclination;
        expectWithin(found, parts + stem / 2, 1e-9);
      }),
      { seed: 121 },
    );
  });

  test('of a cup that no cup is, is refused', () => {
    const hip = { cup: cup(40, 90), stemAnteversion: degrees(15) };
    expect(() => authorCombinedVersion(hip, LINE_37)).toThrow(RangeError);
  });
});

describe('the cup on a published line', () => {
  const widmer = workedExampleIds('combined-anteversion').filter((id) => id.startsWith('widmer-stem-'));
  test.each(
    widmer.map((id) =>
      workedExample('combined-anteversion', id, {
        inputs: z.object({ stem_anteversion: z.number() }),
        expected: z.object({ RA_cup: z.number() }),
      }),
    ),
  )('is the recorded one of the radiographic line ($label)', ({ inputs, expected }) => {
    expectWithin(
      onLine('radiographic', 40, inputs.stem_anteversion, LINE_37).anteversion,
      expected.RA_cup,
      1e-9,
    );
  });

  const anatomic = workedExample('optimum-anteversion', 'optimum-anteversion-84-3', {
    inputs: z.object({ rows: z.array(z.object({ abduction: z.number(), neckAnteversion: z.number() })) }),
    expected: z.object({ betaAnatDeg: z.array(z.number()) }),
  });
  test(`has the recorded anatomic anteversion where inclination is added (${anatomic.label})`, () => {
    // Printed to one decimal and exact there.
    expect(anatomic.inputs.rows.length).toBe(9);
    for (const [index, { abduction, neckAnteversion }] of anatomic.inputs.rows.entries()) {
      const found = onLine('radiographic', abduction, neckAnteversion, LINE_84);
      expectWithin(found.inclination, abduction, 1e-9);
      expectWithin(
        radiographicToAnatomic(found).anteversion,
        anatomic.expected.betaAnatDeg[index] ?? NaN,
        1e-9,
      );
    }
  });

  test.each(
    ['yoshimine-RI40-stem-10', 'yoshimine-RI40-stem-20'].map((id) =>
      workedExample('cup-orientation', id, {
        inputs: z.object({ RI: z.number(), stem_anteversion: z.number() }),
        expected: z.object({ RA: z.number() }),
      }),
    ),
  )('has the radiographic anteversion recorded from memory ($label)', ({ inputs, expected }) => {
    // From memory: the record's own word. Printed to two decimals.
    const found = onLine('radiographic', inputs.RI, inputs.stem_anteversion, LINE_84);
    expectWithin(found.anteversion, expected.RA, 0.005 + 1e-9);
  });

  const operative = workedExample('optimum-anteversion', 'operative-anteversion-2012', {
    inputs: z.object({ femoralAnteversionDeg: z.array(z.number()) }),
    expected: z.object({ normal: z.array(z.number()), severe: z.array(z.number()) }),
  });
  test.each([
    ['normal', LINE_41, operative.expected.normal],
    ['severe', LINE_46, operative.expected.severe],
  ])(
    `has the recorded operative anteversion of the %s line (${operative.label})`,
    (_targets, line, expected) => {
      // Printed to two decimals.
      expect(expected.length).toBe(4);
      for (const [index, stem] of operative.inputs.femoralAnteversionDeg.entries()) {
        const found = radiographicToOperative(onLine('operative', 40, stem, line));
        expectWithin(found.anteversion, expected[index] ?? NaN, 0.005 + 1e-9);
        expectWithin(found.inclination, 40, 1e-9);
      }
    },
  );

  test('lies on the line: the author’s sum of it is that of the line', () => {
    fc.assert(
      fc.property(evenly(30, 55), evenly(0, 35), fc.constantFrom(...LINES), (inclination, stem, line) => {
        const definition = line.anteversion === 'operative' ? 'operative' : 'radiographic';
        const found = onLine(definition, inclination, stem, line);
        expectWithin(versionBesideLine({ cup: found, stemAnteversion: degrees(stem) }, line), 0, 1e-9);
      }),
      { seed: 122 },
    );
  });

  test('of a line without inclination is what the plain line gives', () => {
    for (const stem of [0, 10, 15, 30]) {
      const plain = cupAnteversionForStem(degrees(stem), LINE_37);
      expectWithin(onLine('radiographic', 42, stem, LINE_37).anteversion, plain, 1e-9);
    }
  });

  test('is not told from an inclination of another definition than the line adds', () => {
    expect(() => onLine('operative', 40, 15, LINE_84)).toThrow(RangeError);
  });
});

describe('beside a published line', () => {
  test('a hip counts a degree more for each degree of cup, and the weight for each of stem', () => {
    // Closed form for the radiographic line: 40/20 with a stem at 15 is 30.5, 6.8 below 37.3.
    const beside = (anteversion: number, stem: number): number =>
      versionBesideLine({ cup: cup(40, anteversion), stemAnteversion: degrees(stem) }, LINE_37);
    expectWithin(beside(20, 15), -6.8, 1e-9);
    expectWithin(beside(21, 15) - beside(20, 15), 1, 1e-9);
    expectWithin(beside(20, 16) - beside(20, 15), 0.7, 1e-9);
  });

  test('one hip lies 3 to 10 degrees below four published lines: each counts in its own sum', () => {
    // Closed form, from 40/20 = 29.52 anatomic: 40 + 29.52 + 0.77 x 15 - 84.3 = -3.23; operative 25.41 + 10.92 - 40.916 = -4.59.
    const hip = { cup: cup(40, 20), stemAnteversion: degrees(15) };
    expectWithin(versionBesideLine(hip, LINE_84), -3.23, 0.01);
    expectWithin(versionBesideLine(hip, LINE_41), -4.59, 0.01);
    expectWithin(versionBesideLine(hip, LINE_46), -9.97, 0.01);
  });
});
