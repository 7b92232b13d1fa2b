import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { orientationMap, type OrientationMapInput } from '../../../src/biomechanics/range/orientation-map.js';
import type { NamedPose } from '../../../src/biomechanics/motion/pose.js';
import { worstProstheticMargin } from '../../../src/biomechanics/range/prosthetic-margin.js';
import { lip, ready, replaced, TEXTBOOK } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

/** The four-pose requirement of oscillation-2001 (abstract read), angles as the rulebook's motion-set-four-pose-v1. */
const FOUR: readonly NamedPose[] = [
  pose('flexion', 110, 0, 0),
  pose('extension', -30, 0, 0),
  pose('internal rotation at 90', 90, 0, -30),
  pose('external rotation', 0, 0, 40),
];

function pose(name: string, flexion: number, abduction: number, externalRotation: number): NamedPose {
  return {
    name,
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function grid(
  more: Parameters<typeof replaced>[1] = {},
  [from, to, step]: readonly [number, number, number] = [20, 60, 2],
): OrientationMapInput {
  const { liner, stem, neck } = replaced(TEXTBOOK, more);
  return {
    hip: { liner, stem, neck },
    inclination: { from: degrees(from), to: degrees(to), step: degrees(step) },
    anteversion: { from: degrees(0), to: degrees(40), step: degrees(step) },
    poses: FOUR,
  };
}

const LINERS: readonly (readonly [string, Parameters<typeof replaced>[1]])[] = [
  ['flat', {}],
  ['lip', { liner: { elevation: lip('on-sphere', 225) } }],
  ['lip with ramps', { liner: { elevation: lip('straight-wall', 225, 25) } }],
  ['turned face', { liner: { faceTurn: { angle: degrees(12), toward: degrees(90) } } }],
  ['flattened neck', { neck: { flats: millimetres(9) } }],
  ['held head', { liner: { opening: degrees(150) } }],
];

describe('orientation map', () => {
  test.each(LINERS)('has in each cell the worst margin of that orientation: %s', (_, more) => {
    const map = orientationMap(grid(more));
    map.inclinations.forEach((inclination, i) => {
      map.anteversions.forEach((anteversion, j) => {
        const index = i * map.anteversions.length + j;
        const worst = worstProstheticMargin(ready({ ...TEXTBOOK, inclination, anteversion }, more), FOUR);
        expectWithin(map.margins[index] ?? NaN, worst.margin, 1e-9);
        expect(FOUR[map.limiting[index] ?? -1]?.name).toBe(worst.motion);
      });
    });
  });

  test('its region is where every pose is reached; its center lies in it and is no worse than reached', () => {
    const map = orientationMap(grid());
    expect(map.region.cells).toBe([...map.margins].filter((margin) => margin >= -5e-7).length);
    expect(map.region.cells).toBeGreaterThan(0);
    expect(map.region.center?.margin).toBeGreaterThanOrEqual(0);
    expect(map.best.margin).toBe(Math.max(...map.margins));
  });

  test('a smaller head has a smaller region, a skirt a smaller one still, a held head perhaps none', () => {
    const cells = (input: OrientationMapInput): number => orientationMap(input).region.cells;
    const small = grid();
    const head28 = { ...small, hip: { ...small.hip, liner: replaced({ ...TEXTBOOK, head: 28 }).liner } };
    const skirt = { diameter: millimetres(15), length: millimetres(25) };
    const skirted = { ...head28, hip: { ...head28.hip, neck: { ...head28.hip.neck, skirt } } };
    expect(cells(head28)).toBeLessThan(cells(small));
    expect(cells(skirted)).toBeLessThan(cells(head28));
    const held = orientationMap(grid({ liner: { opening: degrees(110) } }));
    expect(held.region).toEqual({ cells: 0, center: undefined, isCut: false });
  });

  test('says when the region, or the best orientation, lies on the border of the grid asked for', () => {
    const narrow = orientationMap({
      ...grid(),
      inclination: { from: degrees(38), to: degrees(42), step: degrees(2) },
    });
    expect(narrow.region.isCut).toBe(true);
    expect(narrow.best.isOnBorder).toBe(true);
    const wide = orientationMap({
      ...grid(),
      inclination: { from: degrees(2), to: degrees(120), step: degrees(2) },
      anteversion: { from: degrees(-40), to: degrees(80), step: degrees(2) },
    });
    expect(wide.region.isCut).toBe(false);
    expect(wide.best.isOnBorder).toBe(false);
  });

  test('posterior-risk motions limit low anteversion, anterior-risk motions high anteversion', () => {
    const map = orientationMap(grid());
    const row = map.inclinations.findIndex((inclination) => inclination === 40);
    const motionAt = (column: number): string | undefined =>
      FOUR[map.limiting[row * map.anteversions.length + column] ?? -1]?.name;
    expect(['flexion', 'internal rotation at 90']).toContain(motionAt(0));
    expect(['extension', 'external rotation']).toContain(motionAt(map.anteversions.length - 1));
  });

  test('a grid without poses, or with a step of nothing, is refused', () => {
    expect(() => orientationMap({ ...grid(), poses: [] })).toThrow(/at least one pose/);
    expect(() => orientationMap(grid({}, [20, 60, 0]))).toThrow(/positive step/);
  });
});
