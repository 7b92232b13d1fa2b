import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  radiographicToOperative,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import {
  cupInPostures,
  restateCup,
  type PelvicTilts,
  type PlaneTilt,
  type ReferencePlane,
} from '../../../src/biomechanics/orientation/reference-plane.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

type Cup = CupOrientation<'radiographic'>;

const UNKNOWN: PelvicTilts = {
  supine: 'unknown',
  standing: 'unknown',
  'relaxed-seated': 'unknown',
  'flexed-seated': 'unknown',
  table: 'unknown',
};

function tilts(known: Readonly<Partial<Record<keyof PelvicTilts, number>>>): PelvicTilts {
  const tilt = (posture: keyof PelvicTilts): PlaneTilt => {
    const value = known[posture];
    return value === undefined ? UNKNOWN[posture] : degrees(value);
  };
  return {
    supine: tilt('supine'),
    standing: tilt('standing'),
    'relaxed-seated': tilt('relaxed-seated'),
    'flexed-seated': tilt('flexed-seated'),
    table: tilt('table'),
  };
}

function cup(inclination: number, anteversion: number): Cup {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function restated(from: Cup, plane: ReferencePlane, to: ReferencePlane, known: PelvicTilts): Cup {
  const outcome = restateCup({ cup: from, plane }, to, known);
  if (outcome.kind !== 'orientation') throw new Error(`needs ${outcome.needs.join(', ')}`);
  return outcome.orientation;
}

function expectCup(
  found: Cup | undefined,
  inclination: number,
  anteversion: number,
  tolerance: number,
): void {
  expectWithin(found?.inclination ?? NaN, inclination, tolerance);
  expectWithin(found?.anteversion ?? NaN, anteversion, tolerance);
}

const anyCup = fc
  .tuple(evenly(20, 70), evenly(-30, 45))
  .map(([inclination, anteversion]) => cup(inclination, anteversion));
const anyTilt = evenly(-25, 25);
const anyTilts = fc
  .record({ supine: anyTilt, standing: anyTilt, table: anyTilt })
  .map((known) => tilts(known));

describe('a cup restated against another plane', () => {
  test('of 40/25 on a supine film stands at 50.2/40.7 with 22 degrees more posterior tilt', () => {
    // Clinical decisions §4, "Pelvis and spine", and §10, the fixed posterior pelvis.
    for (const supine of [0, 4, -10]) {
      const found = restated(
        cup(40, 25),
        'supine-film',
        'standing-film',
        tilts({ supine, standing: supine - 22 }),
      );
      expectCup(found, 50.2, 40.7, 0.05);
    }
  });

  test('between films loses operative anteversion by the change of tilt, and against the pelvis by the tilt itself', () => {
    // Closed form, the geometry conventions: operative anteversion -1 for each degree forward, operative inclination kept.
    fc.assert(
      fc.property(anyCup, anyTilt, anyTilt, (from, supine, standing) => {
        const known = tilts({ supine, standing });
        const before = radiographicToOperative(from);
        const films = radiographicToOperative(restated(from, 'supine-film', 'standing-film', known));
        expectWithin(films.anteversion, before.anteversion - (standing - supine), 1e-9);
        expectWithin(films.inclination, before.inclination, 1e-9);
        const pelvis = radiographicToOperative(restated(from, 'app', 'standing-film', known));
        expectWithin(pelvis.anteversion, before.anteversion - standing, 1e-9);
      }),
      { seed: 101 },
    );
  });

  test('comes back as it was from a way round all four planes', () => {
    fc.assert(
      fc.property(anyCup, anyTilts, (from, known) => {
        const way = ['app', 'supine-film', 'table', 'standing-film', 'app'] as const;
        const back = way.slice(1).reduce((at, to, step) => restated(at, way[step] ?? 'app', to, known), from);
        expectCup(back, from.inclination, from.anteversion, 1e-9);
      }),
      { seed: 102 },
    );
  });

  test('cannot be told without the tilts it needs, and names them', () => {
    const from = { cup: cup(40, 25), plane: 'supine-film' } as const;
    expect(restateCup(from, 'standing-film', UNKNOWN)).toEqual({
      kind: 'unknown-tilt',
      needs: ['supine', 'standing'],
    });
    expect(restateCup(from, 'app', tilts({ standing: -10 }))).toEqual({
      kind: 'unknown-tilt',
      needs: ['supine'],
    });
    expect(restateCup(from, 'standing-film', tilts({ supine: 3 }))).toEqual({
      kind: 'unknown-tilt',
      needs: ['standing'],
    });
  });

  test('against its own plane is itself, whether or not a tilt is known', () => {
    const from = cup(40, 25);
    for (const plane of ['app', 'supine-film', 'standing-film', 'table'] as const) {
      expect(restated(from, plane, plane, UNKNOWN)).toBe(from);
    }
  });

  const published = workedExample('pelvic-tilt', 'validation-supine-to-standing', {
    inputs: z.object({ RI: z.number(), RA: z.number(), posterior_tilt: z.number() }),
    expected: z.object({ published_standing_RI: z.number(), published_standing_RA: z.number() }),
  });
  test(`gives both published means of one cohort within 0.5 degrees (${published.label})`, () => {
    // The record states posterior tilt positive: the sign is changed once, here.
    const { inputs, expected } = published;
    const known = tilts({ supine: 0, standing: -inputs.posterior_tilt });
    const found = restated(cup(inputs.RI, inputs.RA), 'supine-film', 'standing-film', known);
    expectCup(found, expected.published_standing_RI, expected.published_standing_RA, 0.5);
  });
});

describe('a cup in every posture', () => {
  test('is told where the tilt is known, in order', () => {
    // Clinical decisions §10, the fixed posterior pelvis: supine 0, standing -22, relaxed-seated -25.
    const found = cupInPostures(
      { cup: cup(40, 25), plane: 'supine-film' },
      tilts({ standing: -22, supine: 0, 'relaxed-seated': -25 }),
    );
    expect(found.map(({ posture }) => posture)).toEqual(['supine', 'standing', 'relaxed-seated']);
    expectCup(found[1]?.orientation, 50.2, 40.7, 0.05);
  });

  test('is one cup: all postures have its operative inclination, and anteversions as far apart as the tilts', () => {
    fc.assert(
      fc.property(anyCup, anyTilt, anyTilt, anyTilt, (from, supine, standing, seated) => {
        const known = { supine, standing, 'flexed-seated': seated };
        const found = cupInPostures({ cup: from, plane: 'app' }, tilts(known)).map(({ orientation }) =>
          radiographicToOperative(orientation),
        );
        const before = radiographicToOperative(from);
        expect(found.length).toBe(3);
        for (const [index, tilt] of [supine, standing, seated].entries()) {
          expectWithin(found[index]?.inclination ?? NaN, before.inclination, 1e-9);
          expectWithin(found[index]?.anteversion ?? NaN, before.anteversion - tilt, 1e-9);
        }
      }),
      { seed: 103 },
    );
  });

  test('with the tilt of its film unknown is told in the posture of that film alone', () => {
    const from = cup(42, 18);
    const known = tilts({ standing: -5, 'relaxed-seated': -30 });
    expect(cupInPostures({ cup: from, plane: 'supine-film' }, known)).toEqual([
      { posture: 'supine', orientation: from },
    ]);
    expect(cupInPostures({ cup: from, plane: 'app' }, UNKNOWN)).toEqual([]);
  });
});
