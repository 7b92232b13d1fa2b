import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { cupAxis, radiographicToOperative } from '../../../src/biomechanics/orientation/cup-orientation.js';
import {
  directionalJumpDistance,
  ESCAPES,
  UPWARD_LOAD,
} from '../../../src/biomechanics/stability/directional-jump-distance.js';
import { jumpDistance } from '../../../src/biomechanics/stability/jump-distance.js';
import type { Liner } from '../../../src/biomechanics/range/liner.js';
import { pelvisVector } from '../../../src/biomechanics/vector.js';
import { lip, liner } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

type Way = keyof typeof ESCAPES;

function cup(inclination: number, anteversion: number) {
  return {
    definition: 'radiographic',
    inclination: degrees(inclination),
    anteversion: degrees(anteversion),
  } as const;
}

function jump(of: Liner, inclination: number, anteversion: number, way: Way): number {
  const outcome = directionalJumpDistance({
    cupAxis: cupAxis(cup(inclination, anteversion)),
    liner: of,
    load: UPWARD_LOAD,
    escape: ESCAPES[way],
    penetration: millimetres(0),
  });
  if (outcome.kind !== 'distance') throw new Error(outcome.why);
  return outcome.distance;
}

describe('jump distance by direction, load straight up', () => {
  // Worked values of the project's geometry conventions; no published number was found for anterior and posterior.
  test.each([
    ['superior', 15.21],
    ['anterior', 20.83],
    ['posterior', 29.36],
  ] as const)('a 36 mm head in a cup at 40/15: %s %s mm', (way, expected) => {
    expectWithin(jump(liner(36), 40, 15, way), expected, 0.005 + 1e-9);
  });

  test('superior is the published distance, at every orientation and center', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 20, max: 70, noNaN: true }),
        fc.double({ min: -10, max: 40, noNaN: true }),
        fc.double({ min: -3, max: 3, noNaN: true }),
        (inclination, anteversion, center) => {
          const centerOffset = millimetres(center);
          const published = jumpDistance({
            head: millimetres(32),
            radiographicInclination: degrees(inclination),
            centerOffset,
          });
          expectWithin(
            jump(liner(32, { centerOffset }), inclination, anteversion, 'superior'),
            published,
            1e-9,
          );
        },
      ),
      { seed: 21 },
    );
  });

  test('anterior and posterior rest on 90 - OA and 90 + OA', () => {
    const { anteversion } = radiographicToOperative(cup(45, 25));
    const chord = (arc: number): number => 28 * Math.sin((arc * Math.PI) / 360);
    expectWithin(jump(liner(28), 45, 25, 'anterior'), chord(90 - anteversion), 1e-9);
    expectWithin(jump(liner(28), 45, 25, 'posterior'), chord(90 + anteversion), 1e-9);
  });
});

/* Directions every surgeon expects: common practice, no source. */
describe('what design does to jump distance', () => {
  test('a larger head about the same center has a deeper edge: more distance every way', () => {
    for (const way of ['superior', 'anterior', 'posterior'] as const) {
      expect(jump(liner(36), 40, 15, way)).toBeGreaterThan(jump(liner(28), 40, 15, way));
    }
  });

  test('a steep cup cancels a large head: 36 mm at 60 degrees holds no better than 22 mm at 40', () => {
    expectWithin(jump(liner(36), 60, 15, 'superior'), jump(liner(22), 40, 15, 'superior'), 0.05);
  });

  test('a posteroinferior lip at 40/15 raises the posterior distance and no other', () => {
    const raised = liner(36, { elevation: lip('on-sphere', 225) });
    expect(jump(raised, 40, 15, 'posterior')).toBeGreaterThan(jump(liner(36), 40, 15, 'posterior') + 1);
    expect(jump(raised, 40, 15, 'anterior')).toBe(jump(liner(36), 40, 15, 'anterior'));
    expect(jump(raised, 40, 15, 'superior')).toBe(jump(liner(36), 40, 15, 'superior'));
  });

  test('a lip of 15 degrees where the head leaves gives the derived distance: 16.24 mm', () => {
    // Record lip-and-oblique-liner, derived: 32 mm head at anatomic 45/15 is planar inclination 44.01, lip 15 degrees.
    const all = liner(32, { elevation: { ...lip('on-sphere', 0), arc: degrees(200) } });
    expectWithin(jump(all, 44.007, 0, 'superior'), 16.24, 0.005);
  });

  test('a constrained opening holds more every way; a turned face gives to one side what it takes from the other', () => {
    expect(jump(liner(36, { opening: degrees(150) }), 40, 15, 'anterior')).toBeGreaterThan(
      jump(liner(36), 40, 15, 'anterior'),
    );
    const back = liner(36, { faceTurn: { angle: degrees(10), toward: degrees(90) } });
    expect(jump(back, 40, 15, 'posterior')).toBeGreaterThan(jump(liner(36), 40, 15, 'posterior'));
    expect(jump(back, 40, 15, 'anterior')).toBeLessThan(jump(liner(36), 40, 15, 'anterior'));
  });
});

describe('what the edge that holds the head decides', () => {
  test('a chamfer costs jump distance: the head is held where the chamfer begins', () => {
    // Closed form, ours: the opening plane moves 3 mm inward, asin(3 / 14) of cover.
    const chamfer = { depth: millimetres(3), angle: degrees(45) };
    const lost = (Math.asin(3 / 14) * 180) / Math.PI;
    expectWithin(
      jump(liner(28, { chamfer }), 40, 15, 'superior'),
      28 * Math.sin(((50 - lost) * Math.PI) / 360),
      1e-9,
    );
  });

  test('cover and lip beyond half a turn hold no better than half a turn', () => {
    const lipOf = (angle: number): Liner =>
      liner(28, { elevation: { ...lip('on-sphere', 225), angle: degrees(angle), arc: degrees(200) } });
    expect(jump(lipOf(50), 20, 55, 'posterior')).toBe(28);
  });

  test.each([
    ['bore', { ...liner(28), bore: millimetres(-28) }, /bore must be positive/],
    ['opening', liner(28, { opening: degrees(400) }), /opening must lie/],
    ['held head off center', liner(28, { opening: degrees(150), centerOffset: millimetres(3) }), /must be 0/],
  ] as const)('no liner, no distance: %s', (_, of, message) => {
    expect(() => jump(of, 40, 15, 'superior')).toThrow(message);
  });
});

describe('where there is no distance', () => {
  const base = {
    cupAxis: cupAxis(cup(40, 15)),
    liner: liner(36),
    load: UPWARD_LOAD,
    escape: ESCAPES.superior,
  };

  test('a worn liner has none, however little it is worn', () => {
    expect(directionalJumpDistance({ ...base, penetration: millimetres(0.1) })).toEqual({
      kind: 'none',
      why: 'worn-cavity-undefined',
    });
  });

  test('a head its rim no longer holds has no way to go', () => {
    expect(jump(liner(36), 89, 0, 'superior')).toBeCloseTo(0.31, 2);
    expect(jump(liner(36, { centerOffset: millimetres(8) }), 70, 0, 'superior')).toBe(0);
  });

  test('an escape along the load is refused, and so is a negative penetration', () => {
    expect(() =>
      directionalJumpDistance({ ...base, escape: pelvisVector(0, 2, 0), penetration: millimetres(0) }),
    ).toThrow(/one line/);
    expect(() => directionalJumpDistance({ ...base, penetration: millimetres(-1) })).toThrow(/0 mm or more/);
  });
});
