import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import {
  cupAxisFromStatedAngles,
  toRadiographic,
  type NoCupAxis,
  type StatedCupAngles,
} from '../../../src/biomechanics/orientation/mixed-cup-angles.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

// Doubles through a square root; away from the edges of existence errors stay below 1e-10 degrees.
const ROUND_TRIP = 1e-9;
// Expected figures are printed to two decimals.
const PRINTED = 0.005 + 1e-9;

const DEFINITIONS = ['radiographic', 'operative', 'anatomic'] as const;
const PAIRS = DEFINITIONS.flatMap((inclination) =>
  DEFINITIONS.map((anteversion) => ({ inclination, anteversion })),
);

type Stated = readonly [definition: CupDefinition, value: number];

function stated(inclination: Stated, anteversion: Stated): StatedCupAngles {
  return {
    inclination: { definition: inclination[0], value: degrees(inclination[1]) },
    anteversion: { definition: anteversion[0], value: degrees(anteversion[1]) },
  };
}

function radiographicOf(angles: StatedCupAngles): CupOrientation<'radiographic'> {
  const outcome = toRadiographic(angles);
  if (outcome.kind === 'none') throw new Error(`expected an orientation, got none: ${outcome.why}`);
  return outcome.orientation;
}

function expectNone(angles: StatedCupAngles, why: NoCupAxis['why']): void {
  expect(cupAxisFromStatedAngles(angles)).toEqual({ kind: 'none', why });
  expect(toRadiographic(angles)).toEqual({ kind: 'none', why });
}

/** The angles of one radiographic cup, its inclination in one definition and its anteversion in another. */
function restated(pair: (typeof PAIRS)[number], ri: number, ra: number): StatedCupAngles {
  const axis = cupAxis({ definition: 'radiographic', inclination: degrees(ri), anteversion: degrees(ra) });
  return {
    inclination: {
      definition: pair.inclination,
      value: cupOrientationFromAxis(axis, pair.inclination).inclination,
    },
    anteversion: {
      definition: pair.anteversion,
      value: cupOrientationFromAxis(axis, pair.anteversion).anteversion,
    },
  };
}

describe('round trips', () => {
  test.each(PAIRS)(
    'a cup stated by $inclination inclination and $anteversion anteversion is found again',
    (pair) => {
      fc.assert(
        fc.property(
          fc.double({ min: 5, max: 85, noNaN: true }),
          fc.double({ min: -60, max: 60, noNaN: true }),
          (ri, ra) => {
            const found = radiographicOf(restated(pair, ri, ra));
            expectWithin(found.inclination, ri, ROUND_TRIP);
            expectWithin(found.anteversion, ra, ROUND_TRIP);
          },
        ),
      );
    },
  );

  const unambiguous = PAIRS.filter((p) => p.inclination !== 'operative' || p.anteversion === 'operative');

  test.each(unambiguous)(
    'a cup opened past horizontal is found again from $inclination inclination and $anteversion anteversion',
    (pair) => {
      fc.assert(
        fc.property(
          fc.double({ min: 95, max: 170, noNaN: true }),
          fc.double({ min: -60, max: 60, noNaN: true }),
          (ri, ra) => {
            const found = radiographicOf(restated(pair, ri, ra));
            expectWithin(found.inclination, ri, ROUND_TRIP);
            expectWithin(found.anteversion, ra, ROUND_TRIP);
          },
        ),
      );
    },
  );

  test.each(['radiographic', 'anatomic'] as const)(
    'operative inclination with %s anteversion is read as the cup that opens caudally',
    (anteversion) => {
      const found = radiographicOf(restated({ inclination: 'operative', anteversion }, 110, 20));
      expectWithin(found.inclination, 70, ROUND_TRIP);
      expectWithin(found.anteversion, 20, ROUND_TRIP);
    },
  );
});

describe('the axis found', () => {
  // The stated angles are free here, unlike in the round trips, so that pairs without a cup occur too.
  test.each(PAIRS)(
    'has the stated $inclination inclination and $anteversion anteversion whenever it exists',
    (pair) => {
      let existing = 0;
      fc.assert(
        fc.property(
          fc.double({ min: 2, max: 88, noNaN: true }),
          fc.double({ min: -80, max: 80, noNaN: true }),
          (i, a) => {
            const outcome = cupAxisFromStatedAngles(stated([pair.inclination, i], [pair.anteversion, a]));
            if (outcome.kind === 'none') return;
            existing += 1;
            // Close to the edge of existence a square root of rounding leaves about 1e-8 rad: 1e-5 degrees covers it.
            expectWithin(cupOrientationFromAxis(outcome.axis, pair.inclination).inclination, i, 1e-5);
            expectWithin(cupOrientationFromAxis(outcome.axis, pair.anteversion).anteversion, a, 1e-5);
          },
        ),
      );
      expect(existing).toBeGreaterThan(20);
    },
  );
});

describe('worked examples', () => {
  // Closed form, ours: no record. Radiographic 40/15 with either angle restated in another definition.
  test.each([
    ['radiographic', 40, 'operative', 19.28],
    ['radiographic', 40, 'anatomic', 22.63],
    ['operative', 38.38, 'radiographic', 15],
    ['operative', 38.38, 'anatomic', 22.63],
    ['anatomic', 42.27, 'radiographic', 15],
    ['anatomic', 42.27, 'operative', 19.28],
  ] as const)('%s inclination %s with %s anteversion %s is the 40/15 radiographic cup', (di, i, da, a) => {
    const found = radiographicOf(stated([di, i], [da, a]));
    // Both inputs are rounded to two decimals, which the steepest pair here enlarges about fivefold.
    expectWithin(found.inclination, 40, 0.05);
    expectWithin(found.anteversion, 15, 0.05);
  });

  const hybrid = workedExample('cup-orientation', 'hybrid-anteversion-conversion', {
    inputs: z.object({ cases: z.array(z.tuple([z.number(), z.number()])).length(3) }),
    expected: z.object({ raDeg: z.array(z.number()).length(3) }),
  });

  test(`radiographic inclination with anatomic anteversion gives the derived radiographic anteversion (${hybrid.label})`, () => {
    hybrid.inputs.cases.forEach(([ri, aa], index) => {
      const found = radiographicOf(stated(['radiographic', ri], ['anatomic', aa]));
      expectWithin(found.anteversion, hybrid.expected.raDeg[index] ?? Number.NaN, PRINTED);
      expectWithin(found.inclination, ri, ROUND_TRIP);
    });
  });

  test.each(
    ['yoshimine-RI40-stem-10', 'yoshimine-RI40-stem-20'].map((id) =>
      workedExample('cup-orientation', id, {
        inputs: z.object({ RI: z.number() }),
        expected: z.object({ AA: z.number(), RA: z.number() }),
      }),
    ),
  )(
    'anatomic anteversion of the recalled optimum line converts at radiographic inclination 40 ($label)',
    (example) => {
      const { inputs, expected } = example;
      const found = radiographicOf(stated(['radiographic', inputs.RI], ['anatomic', expected.AA]));
      expectWithin(found.anteversion, expected.RA, PRINTED);
    },
  );
});

describe('where no cup exists', () => {
  test('operative inclination and radiographic anteversion that add up to more than 90 belong to no cup', () => {
    expectNone(stated(['operative', 60], ['radiographic', 31]), 'no-such-axis');
    expectNone(stated(['operative', 60], ['radiographic', -31]), 'no-such-axis');
  });

  test('operative inclination and radiographic anteversion that add up to exactly 90 give the cup at horizontal', () => {
    const found = radiographicOf(stated(['operative', 60], ['radiographic', 30]));
    // u is the square root of a rounding error, so about 1e-8 rad.
    expectWithin(found.inclination, 90, 1e-5);
    expectWithin(found.anteversion, 30, 1e-5);
  });

  test('operative inclination with radiographic or anatomic anteversion exists exactly up to a sum of 90', () => {
    const definition = fc.constantFrom('radiographic' as const, 'anatomic' as const);
    const value = fc.double({ min: 1, max: 89, noNaN: true });
    fc.assert(
      fc.property(definition, value, value, (anteversion, oi, a) => {
        fc.pre(Math.abs(oi + a - 90) > 1e-6);
        const outcome = cupAxisFromStatedAngles(stated(['operative', oi], [anteversion, a]));
        expect(outcome.kind).toBe(oi + a < 90 ? 'axis' : 'none');
      }),
    );
  });

  test('anatomic inclination must exceed the radiographic or operative anteversion', () => {
    const definition = fc.constantFrom('radiographic' as const, 'operative' as const);
    const value = fc.double({ min: 1, max: 89, noNaN: true });
    fc.assert(
      fc.property(definition, value, value, (anteversion, ai, a) => {
        fc.pre(Math.abs(ai - a) > 1e-6);
        const outcome = cupAxisFromStatedAngles(stated(['anatomic', ai], [anteversion, a]));
        expect(outcome.kind).toBe(ai > a ? 'axis' : 'none');
      }),
    );
    expectNone(stated(['anatomic', 20], ['radiographic', 20]), 'no-such-axis');
  });

  test.each(['radiographic', 'anatomic'] as const)(
    '%s inclination and operative anteversion on different sides of horizontal contradict each other',
    (inclination) => {
      expectNone(stated([inclination, 60], ['operative', 120]), 'no-such-axis');
      expectNone(stated([inclination, 120], ['operative', 30]), 'no-such-axis');
      expectNone(stated([inclination, 60], ['operative', 90]), 'no-such-axis');
    },
  );

  test.each(['radiographic', 'anatomic'] as const)(
    '%s inclination 90 with operative anteversion 90 leaves the cup undetermined',
    (inclination) => {
      expectNone(stated([inclination, 90], ['operative', 90]), 'undetermined');
      expectNone(stated([inclination, 90], ['operative', -90]), 'undetermined');
    },
  );

  test.each(PAIRS)('an angle outside its own definition is refused: $inclination, $anteversion', (pair) => {
    expect(() => toRadiographic(stated([pair.inclination, 0], [pair.anteversion, 10]))).toThrow(RangeError);
    expect(() => toRadiographic(stated([pair.inclination, 40], [pair.anteversion, 181]))).toThrow(RangeError);
  });
});
