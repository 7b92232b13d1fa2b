import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  anatomicToOperative,
  anatomicToRadiographic,
  cupAxis,
  cupOrientationFromAxis,
  operativeToAnatomic,
  operativeToRadiographic,
  radiographicToAnatomic,
  radiographicToOperative,
  type CupDefinition,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import { length, pelvisVector } from '../../../src/biomechanics/vector.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

// Expected figures are printed to two decimals.
const PRINTED = 0.005 + 1e-9;
// Doubles through two conversions; measured errors stay below 1e-11 degrees.
const ROUND_TRIP = 1e-9;

function cup<D extends CupDefinition>(
  definition: D,
  inclination: number,
  anteversion: number,
): CupOrientation<D> {
  return { definition, inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function expectAngles(
  actual: CupOrientation<CupDefinition>,
  inclination: number,
  anteversion: number,
  tolerance = PRINTED,
): void {
  expectWithin(actual.inclination, inclination, tolerance);
  expectWithin(actual.anteversion, anteversion, tolerance);
}

/** One cup in all three definitions. */
interface SameCup {
  readonly radiographic: readonly [number, number];
  readonly operative: readonly [number, number];
  readonly anatomic: readonly [number, number];
}

function expectSameCup({ radiographic, operative, anatomic }: SameCup): void {
  expectAngles(radiographicToOperative(cup('radiographic', ...radiographic)), ...operative);
  expectAngles(radiographicToAnatomic(cup('radiographic', ...radiographic)), ...anatomic);
  // Inputs here carry two decimals themselves, so their rounding adds to that of the expected figure.
  const twice = 0.02;
  expectAngles(operativeToRadiographic(cup('operative', ...operative)), ...radiographic, twice);
  expectAngles(operativeToAnatomic(cup('operative', ...operative)), ...anatomic, twice);
  expectAngles(anatomicToRadiographic(cup('anatomic', ...anatomic)), ...radiographic, twice);
  expectAngles(anatomicToOperative(cup('anatomic', ...anatomic)), ...operative, twice);
}

describe('worked conversions', () => {
  // Closed form, computed with plain rotation matrices: radiographic-to-others-lewinnek-centre (Murray 1993 for definitions).
  test('40/15 radiographic is 38.38/19.28 operative and 42.27/22.63 anatomic', () => {
    expectSameCup({ radiographic: [40, 15], operative: [38.38, 19.28], anatomic: [42.27, 22.63] });
  });

  // Closed form, ours: no record.
  test('60/15 radiographic is 56.77/28.19 operative and 61.12/17.19 anatomic', () => {
    expectSameCup({ radiographic: [60, 15], operative: [56.77, 28.19], anatomic: [61.12, 17.19] });
  });

  // Closed form, ours: no record; printed to one decimal.
  test('45/20 operative is 46.8/14.0 radiographic, not 45/20', () => {
    expectAngles(operativeToRadiographic(cup('operative', 45, 20)), 46.8, 14.0, 0.05);
    expectAngles(operativeToRadiographic(cup('operative', 45, 20)), 46.78, 14.0);
  });
});

describe('the cup axis', () => {
  // Closed form: sin 15, cos 15 cos 40, cos 15 sin 40, rounded to four decimals.
  test('a 40/15 radiographic cup opens forward, down and out along (0.2588, -0.7399, 0.6209)', () => {
    const axis = cupAxis(cup('radiographic', 40, 15));
    expectWithin(axis[0], 0.2588, 5e-5);
    expectWithin(axis[1], -0.7399, 5e-5);
    expectWithin(axis[2], 0.6209, 5e-5);
  });

  test('the axis is a unit vector in every definition', () => {
    for (const definition of ['radiographic', 'operative', 'anatomic'] as const) {
      expectWithin(length(cupAxis(cup(definition, 47, 23))), 1, 1e-15);
    }
  });

  test('an axis of any length gives the same angles', () => {
    expectAngles(cupOrientationFromAxis(pelvisVector(0, -7, 7), 'anatomic'), 45, 0, 1e-12);
  });
});

const RADIOGRAPHIC_RECORDS = workedExampleIds('cup-orientation').filter((id) =>
  id.startsWith('radiographic-to-others-'),
);
const OPERATIVE_RECORDS = workedExampleIds('cup-orientation').filter((id) =>
  id.startsWith('operative-to-radiographic-'),
);
const ANATOMIC_RECORDS = workedExampleIds('cup-orientation').filter((id) =>
  id.startsWith('anatomic-to-radiographic-'),
);

const RADIOGRAPHIC = z.object({ RI: z.number(), RA: z.number() });
const OPERATIVE = z.object({ OI: z.number(), OA: z.number() });
const ANATOMIC = z.object({ AI: z.number(), AA: z.number() });

describe('recorded conversions', () => {
  test('every recorded conversion is run', () => {
    expect([RADIOGRAPHIC_RECORDS.length, OPERATIVE_RECORDS.length, ANATOMIC_RECORDS.length]).toEqual([
      11, 3, 2,
    ]);
  });

  test.each(
    RADIOGRAPHIC_RECORDS.map((id) =>
      workedExample('cup-orientation', id, {
        inputs: RADIOGRAPHIC,
        expected: OPERATIVE.extend(ANATOMIC.shape),
      }),
    ),
  )('a radiographic cup becomes the recorded operative and anatomic cup ($label)', ({ inputs, expected }) => {
    const radiographic = cup('radiographic', inputs.RI, inputs.RA);
    expectAngles(radiographicToOperative(radiographic), expected.OI, expected.OA);
    expectAngles(radiographicToAnatomic(radiographic), expected.AI, expected.AA);
  });

  test.each(
    OPERATIVE_RECORDS.map((id) =>
      workedExample('cup-orientation', id, {
        inputs: OPERATIVE,
        expected: RADIOGRAPHIC.extend(ANATOMIC.shape),
      }),
    ),
  )(
    'an operative cup becomes the recorded radiographic and anatomic cup ($label)',
    ({ inputs, expected }) => {
      const operative = cup('operative', inputs.OI, inputs.OA);
      expectAngles(operativeToRadiographic(operative), expected.RI, expected.RA);
      expectAngles(operativeToAnatomic(operative), expected.AI, expected.AA);
    },
  );

  test.each(
    ANATOMIC_RECORDS.map((id) =>
      workedExample('cup-orientation', id, {
        inputs: ANATOMIC,
        expected: RADIOGRAPHIC.extend(OPERATIVE.shape),
      }),
    ),
  )(
    'an anatomic cup becomes the recorded radiographic and operative cup ($label)',
    ({ inputs, expected }) => {
      const anatomic = cup('anatomic', inputs.AI, inputs.AA);
      expectAngles(anatomicToRadiographic(anatomic), expected.RI, expected.RA);
      expectAngles(anatomicToOperative(anatomic), expected.OI, expected.OA);
    },
  );

  const cohort = workedExample('cup-orientation', 'ante-inclination-cohort-mean', {
    inputs: RADIOGRAPHIC,
    expected: z.object({ AI: z.number(), published_mean_AI_measured: z.number() }),
  });

  // Published: 440 hips, sagittal ante-inclination, which is operative anteversion. Means are printed in whole degrees.
  test(`operative anteversion of mean angles is the ante-inclination measured in a cohort (${cohort.label})`, () => {
    const { anteversion } = radiographicToOperative(cup('radiographic', cohort.inputs.RI, cohort.inputs.RA));
    expectWithin(anteversion, cohort.expected.published_mean_AI_measured, 0.5);
    expectWithin(anteversion, cohort.expected.AI, PRINTED);
  });

  const single = workedExample('cup-orientation', 'ante-inclination-40-20', {
    inputs: RADIOGRAPHIC,
    expected: z.object({ AI: z.number() }),
  });

  test(`operative anteversion follows the printed ante-inclination equation (${single.label})`, () => {
    const { anteversion } = radiographicToOperative(cup('radiographic', single.inputs.RI, single.inputs.RA));
    expectWithin(anteversion, single.expected.AI, PRINTED);
  });
});

const RANGE = z.tuple([z.number(), z.number()]);

describe('properties', () => {
  const inclination = fc.double({ min: 1, max: 179, noNaN: true });
  const anteversion = fc.double({ min: -85, max: 85, noNaN: true });

  test('a radiographic cup survives the way through each other definition, also opened past horizontal', () => {
    fc.assert(
      fc.property(inclination, anteversion, (ri, ra) => {
        const original = cup('radiographic', ri, ra);
        expectAngles(operativeToRadiographic(radiographicToOperative(original)), ri, ra, ROUND_TRIP);
        expectAngles(anatomicToRadiographic(radiographicToAnatomic(original)), ri, ra, ROUND_TRIP);
      }),
    );
  });

  test('an anatomic cup survives the way through each other definition', () => {
    fc.assert(
      fc.property(inclination, anteversion, (ai, aa) => {
        const original = cup('anatomic', ai, aa);
        expectAngles(radiographicToAnatomic(anatomicToRadiographic(original)), ai, aa, ROUND_TRIP);
        expectAngles(operativeToAnatomic(anatomicToOperative(original)), ai, aa, ROUND_TRIP);
      }),
    );
  });

  test('an operative cup survives the way through each other definition, also with anteversion past 90', () => {
    const operativeInclination = fc.double({ min: 1, max: 89, noNaN: true });
    const operativeAnteversion = fc.double({ min: -179, max: 179, noNaN: true });
    fc.assert(
      fc.property(operativeInclination, operativeAnteversion, (oi, oa) => {
        const original = cup('operative', oi, oa);
        expectAngles(radiographicToOperative(operativeToRadiographic(original)), oi, oa, ROUND_TRIP);
        expectAngles(anatomicToOperative(operativeToAnatomic(original)), oi, oa, ROUND_TRIP);
      }),
    );
  });

  test('a detour through a third definition gives the same cup as the direct way', () => {
    fc.assert(
      fc.property(inclination, anteversion, (ri, ra) => {
        const direct = radiographicToAnatomic(cup('radiographic', ri, ra));
        const detour = operativeToAnatomic(radiographicToOperative(cup('radiographic', ri, ra)));
        expectAngles(detour, direct.inclination, direct.anteversion, ROUND_TRIP);
      }),
    );
  });

  const grid = workedExample('cup-orientation', 'round-trip-invariant', {
    inputs: z.object({ RI: RANGE, RA: RANGE, step: z.number() }),
    expected: z.object({ max_error_deg: z.literal(0) }),
  });

  test(`round trips hold on the recorded grid (${grid.label})`, () => {
    const { RI, RA, step } = grid.inputs;
    let compared = 0;
    for (let ri = RI[0]; ri <= RI[1]; ri += step) {
      for (let ra = RA[0]; ra <= RA[1]; ra += step, compared += 1) {
        const original = cup('radiographic', ri, ra);
        expectAngles(operativeToRadiographic(radiographicToOperative(original)), ri, ra, ROUND_TRIP);
        expectAngles(anatomicToRadiographic(radiographicToAnatomic(original)), ri, ra, ROUND_TRIP);
      }
    }
    expect(compared).toBe(31 * 33);
  });

  const ordering = workedExample('cup-orientation', 'ordering-invariant', {
    inputs: z.object({ RI: RANGE, RA: RANGE }),
    expected: z.object({ holds: z.literal(true) }),
  });

  // From 1 degree of anteversion on, the smallest difference in this range is far above rounding.
  test(`an anteverted cup has OI < RI < AI and RA below OA and AA (${ordering.label})`, () => {
    const { RI, RA } = ordering.inputs;
    const ri = fc.double({ min: RI[0], max: RI[1], noNaN: true });
    const ra = fc.double({ min: Math.max(1, RA[0]), max: RA[1], noNaN: true });
    fc.assert(
      fc.property(ri, ra, (inclined, turned) => {
        const operative = radiographicToOperative(cup('radiographic', inclined, turned));
        const anatomic = radiographicToAnatomic(cup('radiographic', inclined, turned));
        expect(operative.inclination).toBeLessThan(inclined);
        expect(anatomic.inclination).toBeGreaterThan(inclined);
        expect(operative.anteversion).toBeGreaterThan(turned);
        expect(anatomic.anteversion).toBeGreaterThan(turned);
      }),
    );
  });

  test('turning a cup backward instead of forward changes the sign of every anteversion and no inclination', () => {
    fc.assert(
      fc.property(inclination, anteversion, (ri, ra) => {
        for (const convert of [radiographicToOperative, radiographicToAnatomic]) {
          const forward = convert(cup('radiographic', ri, ra));
          const backward = convert(cup('radiographic', ri, -ra));
          expectAngles(backward, forward.inclination, 0 - forward.anteversion, ROUND_TRIP);
        }
      }),
    );
  });
});

describe('limit cases', () => {
  test.each([10, 45, 89])(
    'a cup with zero anteversion keeps its inclination of %s in every definition',
    (inclined) => {
      expectAngles(radiographicToOperative(cup('radiographic', inclined, 0)), inclined, 0, 1e-12);
      expectAngles(radiographicToAnatomic(cup('radiographic', inclined, 0)), inclined, 0, 1e-12);
      expectAngles(operativeToAnatomic(cup('operative', inclined, 0)), inclined, 0, 1e-12);
    },
  );

  test('a cup opened past horizontal has operative anteversion past 90 and operative inclination below 90', () => {
    // Closed form: OA = atan2(sin 20, cos 20 cos 100), OI = asin(cos 20 sin 100).
    const operative = radiographicToOperative(cup('radiographic', 100, 20));
    const rad = Math.PI / 180;
    const x = Math.sin(20 * rad);
    const u = Math.cos(20 * rad) * Math.cos(100 * rad);
    expectWithin(operative.anteversion, 180 + Math.atan(x / u) / rad, 1e-9);
    expectWithin(operative.inclination, Math.asin(Math.cos(20 * rad) * Math.sin(100 * rad)) / rad, 1e-9);
    expect(operative.anteversion).toBeGreaterThan(90);
  });

  test('a straight lateral cup has inclination 90 in every definition and no radiographic anteversion', () => {
    const lateral = pelvisVector(0, 0, 1);
    expectAngles(cupOrientationFromAxis(lateral, 'radiographic'), 90, 0, 1e-12);
    expectAngles(cupOrientationFromAxis(lateral, 'anatomic'), 90, 0, 1e-12);
    expectWithin(cupOrientationFromAxis(lateral, 'operative').inclination, 90, 1e-12);
  });
});

describe('domain errors', () => {
  test.each([
    ['radiographic', 0, 15],
    ['radiographic', 180, 15],
    ['radiographic', -5, 15],
    ['radiographic', 40, 90],
    ['radiographic', 40, -90],
    ['anatomic', 0, 15],
    ['anatomic', 180, 15],
    ['anatomic', 40, 90],
    ['anatomic', 40, -90],
    ['operative', 0, 15],
    ['operative', 90.001, 15],
    ['operative', 40, 180.001],
    ['operative', 40, -180.001],
  ] as const)('%s %s/%s is no cup and is refused by name', (definition, inclination, anteversion) => {
    expect(() => cupAxis(cup(definition, inclination, anteversion))).toThrow(RangeError);
    expect(() => cupAxis(cup(definition, inclination, anteversion))).toThrow(definition);
  });

  test.each([0, -0.5])('an axis that does not open laterally (z = %s) is refused', (z0) => {
    expect(() => cupOrientationFromAxis(pelvisVector(0, -1, z0), 'radiographic')).toThrow(RangeError);
  });
});
