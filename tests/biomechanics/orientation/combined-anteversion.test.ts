import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  combinedAnteversion,
  cupAnteversionForStem,
} from '../../../src/biomechanics/orientation/combined-anteversion.js';
import {
  radiographicToAnatomic,
  radiographicToOperative,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

const angle = fc.double({ min: -60, max: 60, noNaN: true });

describe('combined anteversion', () => {
  const sum = workedExample('combined-anteversion', 'combined-sum', {
    inputs: z.object({ cup: z.number(), stem: z.number() }),
    expected: z.object({ CA: z.number() }),
  });
  test(sum.label, () => {
    const { inputs, expected } = sum;
    const found = combinedAnteversion(
      { definition: 'radiographic', anteversion: degrees(inputs.cup) },
      degrees(inputs.stem),
    );
    expect(found).toEqual({ cupDefinition: 'radiographic', sum: expected.CA });
  });

  test('of one hip is three sums, 35.0, 40.4 and 44.5 degrees, by the definition of its cup angle', () => {
    // Closed form: 40/20 radiographic is 25.41 operative and 29.52 anatomic (record radiographic-to-others-common-40-20).
    const cup = {
      definition: 'radiographic' as const,
      inclination: degrees(40),
      anteversion: degrees(20),
    };
    const sums = [cup, radiographicToOperative(cup), radiographicToAnatomic(cup)].map((one) =>
      combinedAnteversion(one, degrees(15)),
    );
    expect(sums.map(({ cupDefinition }) => cupDefinition)).toEqual(['radiographic', 'operative', 'anatomic']);
    for (const [index, expected] of [35, 40.41, 44.52].entries()) {
      expectWithin(sums[index]?.sum ?? NaN, expected, 0.006);
    }
  });

  test('grows by a degree with each degree of either part', () => {
    // Closed form; doubles of this size keep 1e-12.
    fc.assert(
      fc.property(angle, angle, angle, (cup, stem, more) => {
        const at = (first: number, second: number): number =>
          combinedAnteversion({ definition: 'operative', anteversion: degrees(first) }, degrees(second)).sum;
        expectWithin(at(cup + more, stem) - at(cup, stem), more, 1e-12);
        expectWithin(at(cup, stem + more) - at(cup, stem), more, 1e-12);
      }),
      { seed: 11 },
    );
  });

  test('of a cup angle that no cup has is refused', () => {
    for (const anteversion of [90, -90, 120]) {
      expect(() =>
        combinedAnteversion({ definition: 'radiographic', anteversion: degrees(anteversion) }, degrees(15)),
      ).toThrow(RangeError);
    }
  });
});

describe('the cup a stem asks for by a published line', () => {
  // The line as records print it: cup + 0.7 stem = 37.3, radiographic, inclination 40-45.
  const LINE = { sum: degrees(37.3), stemWeight: 0.7 };
  const RECORDS = workedExampleIds('combined-anteversion').filter((id) => id.startsWith('widmer-stem-'));

  test('every record of the line is run', () => {
    expect(RECORDS.length).toBe(5);
  });

  for (const id of RECORDS) {
    const { inputs, expected, label } = workedExample('combined-anteversion', id, {
      inputs: z.object({ stem_anteversion: z.number() }),
      expected: z.object({ RA_cup: z.number() }),
    });
    test(label, () => {
      expectWithin(cupAnteversionForStem(degrees(inputs.stem_anteversion), LINE), expected.RA_cup, 1e-9);
    });
  }

  const table = workedExample('combined-anteversion', 'combined-anteversion-37-3', {
    inputs: z.object({ stemAnteversionDeg: z.array(z.number()) }),
    expected: z.object({ cupAnteversionDeg: z.array(z.number()) }),
  });
  test(table.label, () => {
    const found = table.inputs.stemAnteversionDeg.map((stem) => cupAnteversionForStem(degrees(stem), LINE));
    expect(found.length).toBe(7);
    for (const [index, cup] of found.entries()) {
      expectWithin(cup, table.expected.cupAnteversionDeg[index] ?? NaN, 1e-9);
    }
  });

  test('puts cup and stem back on the line', () => {
    // Closed form, for any line.
    fc.assert(
      fc.property(angle, angle, fc.double({ min: 0, max: 2, noNaN: true }), (stem, sum, stemWeight) => {
        const cup = cupAnteversionForStem(degrees(stem), { sum: degrees(sum), stemWeight });
        expectWithin(cup + stemWeight * stem, sum, 1e-9);
      }),
      { seed: 12 },
    );
  });
});
