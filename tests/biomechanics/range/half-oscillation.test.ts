import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { halfOscillation, neckInLiner } from '../../../src/biomechanics/range/half-oscillation.js';
import { oscillationAngle } from '../../../src/biomechanics/range/head-neck.js';
import { rimAzimuth } from '../../../src/biomechanics/range/impingement-margin.js';
import {
  elevationFromHeight,
  elevationShare,
  openingAxis,
  rimDirection,
  rimSection,
  type Liner,
} from '../../../src/biomechanics/range/liner.js';
import { neckSections, type Neck } from '../../../src/biomechanics/range/neck.js';
import { angleBetween, pelvisVector } from '../../../src/biomechanics/vector.js';
import { lip, liner } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

const ROUND: Neck = { diameter: millimetres(12) };

function half(of: Liner, neck: Neck, azimuth = 0, roll = 0): number {
  return halfOscillation(neckInLiner(of, neck), { azimuth: degrees(azimuth), roll: degrees(roll) });
}

const acosDeg = (cosine: number): number => (Math.acos(cosine) * 180) / Math.PI;
const asinDeg = (sine: number): number => (Math.asin(sine) * 180) / Math.PI;
const tanDeg = (angle: number): number => Math.tan((angle * Math.PI) / 180);

describe('a round neck in a flat rim', () => {
  test('has the closed form of the oscillation angle, wherever the center lies', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 22, max: 48, noNaN: true }),
        fc.double({ min: 9, max: 14, noNaN: true }),
        fc.double({ min: -3, max: 3, noNaN: true }),
        fc.double({ min: 0, max: 360, noNaN: true }),
        (head, neck, center, azimuth) => {
          const geometry = {
            head: millimetres(head),
            neck: millimetres(neck),
            centerOffset: millimetres(center),
          };
          const of = liner(head, { centerOffset: geometry.centerOffset });
          expectWithin(half(of, { diameter: geometry.neck }, azimuth), oscillationAngle(geometry) / 2, 1e-9);
        },
      ),
      { seed: 1 },
    );
  });

  test('a dual mobility bearing is limited by the neck on the outer rim: acos(neck / mobile liner)', () => {
    // Closed form, ours: the mobile liner plays the part of the head.
    expectWithin(half(liner(42), ROUND), acosDeg(12 / 42), 1e-9);
  });

  test('an opening of 150 degrees takes 15 degrees from every side', () => {
    // Closed form, ours.
    expectWithin(half(liner(32, { opening: degrees(150) }), ROUND), 75 - asinDeg(12 / 32), 1e-9);
  });
});

describe('steps and flats of the neck', () => {
  test('a skirt as long as the head counts as a neck of its diameter', () => {
    // Record osc-head-neck-table says to treat a skirt as a neck of the skirt's diameter; exact when it reaches the rim.
    const skirt = { diameter: millimetres(16), length: millimetres(40) };
    expectWithin(half(liner(28), { ...ROUND, skirt }), acosDeg(16 / 28), 1e-9);
  });

  test('a skirt that ends inside the rim touches it with its edge only when that sticks out of the head', () => {
    const hidden = { diameter: millimetres(16), length: millimetres(11) };
    expectWithin(half(liner(28), { ...ROUND, skirt: hidden }), acosDeg(12 / 28), 1e-9);
    // Edge at hypot(12.5, 8) = 14.84 mm from the center: there the flat rim has no inner edge but its face.
    const edge = { diameter: millimetres(16), length: millimetres(12.5) };
    expectWithin(half(liner(28), { ...ROUND, skirt: edge }), 90 - asinDeg(8 / 14), 1e-9);
  });

  test('a thin taper gives range until its shoulder meets the face of the rim', () => {
    const taper = { diameter: millimetres(10), length: millimetres(13) };
    // The rim's inner edge, 14 mm from the center, sees the taper; the shoulder stands at hypot(13, 6) = 14.32 mm.
    const shoulder = 90 - asinDeg(6 / Math.hypot(13, 6));
    expectWithin(half(liner(28), { ...ROUND, taper }), Math.min(acosDeg(10 / 28), shoulder), 1e-9);
  });

  test('flats that face the rim let the neck go as far as the edge between flat and side', () => {
    const flats: Neck = { diameter: millimetres(12), flats: millimetres(8) };
    expectWithin(half(liner(28), flats, 0, 0), acosDeg(12 / 28), 1e-9);
    // Roll 90: the flat looks at the rim. In the plane of the lean the corner stands 4 mm out, sqrt(36 - 16) aside;
    // it lies on the rim's circle when cos(lean) 14 cos(cap) = sin(lean) 4.
    const expected = 90 - (Math.atan2(4, Math.sqrt(14 ** 2 - 6 ** 2)) * 180) / Math.PI;
    expectWithin(half(liner(28), flats, 0, 90), expected, 1e-9);
  });

  test('a flattened neck never has less range than a round one of its diameter, nor more than one of its width', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 7, max: 12, noNaN: true }),
        fc.double({ min: 0, max: 360, noNaN: true }),
        (flats, roll) => {
          const found = half(liner(32), { ...ROUND, flats: millimetres(flats) }, 0, roll);
          expect(found).toBeGreaterThanOrEqual(acosDeg(12 / 32) - 1e-9);
          expect(found).toBeLessThanOrEqual(acosDeg(flats / 32) + 1e-9);
        },
      ),
      { seed: 2 },
    );
  });
});

describe('chamfer and lip', () => {
  test('a chamfer raises the arc, limited by its inner or its outer edge', () => {
    const chamfer = { depth: millimetres(1), angle: degrees(45) };
    const inner = { radius: Math.sqrt(14 ** 2 - 1), height: -1 };
    const outer = { radius: inner.radius + 1, height: 0 };
    const touch = ({ radius, height }: typeof inner): number =>
      (Math.atan2(radius, height) * 180) / Math.PI - asinDeg(6 / Math.hypot(radius, height));
    const found = half(liner(28, { chamfer }), ROUND);
    expectWithin(found, Math.min(touch(inner), touch(outer)), 1e-9);
    expect(found).toBeGreaterThan(acosDeg(12 / 28));
  });

  test('on the side of a lip the arc is 90 - lip - asin(neck / head); opposite it is untouched', () => {
    // Record lip-and-oblique-liner, derived: 32 mm head, 12 mm neck, lip 10, 15, 20: 57.98, 52.98, 47.98.
    for (const [angle, expected] of [
      [10, 57.98],
      [15, 52.98],
      [20, 47.98],
    ] as const) {
      const raised = liner(32, { elevation: { ...lip('on-sphere', 225), angle: degrees(angle) } });
      expectWithin(half(raised, ROUND, 225), expected, 0.005);
      expectWithin(half(raised, ROUND, 45), 67.98, 0.005);
    }
  });

  test('a straight wall that adds the same cover costs a little less: its edge stands further from the center', () => {
    const wall = half(liner(32, { elevation: lip('straight-wall', 225) }), ROUND, 225);
    // Closed form, ours: edge at 16 / sin 75 from the center.
    expectWithin(wall, 75 - asinDeg(6 / (16 / Math.sin((75 * Math.PI) / 180))), 1e-9);
  });

  test('beside a lip the neck meets its end sideways, further off the more it is turned away', () => {
    const raised = liner(32, { elevation: lip('on-sphere', 225) });
    const turned = [45, 50, 60, 68, 75].map((away) => half(raised, ROUND, 225 + away));
    expect(turned).toEqual([...turned].sort((a, b) => a - b));
    expectWithin(turned[4] ?? 0, 67.98, 0.005);
  });

  test('a very short ramp is an end wall', () => {
    const steep = { ...lip('on-sphere', 225), ramp: degrees(0.001) };
    for (const away of [0, 30, 47, 55, 62, 70]) {
      const [ramped, walled] = [steep, lip('on-sphere', 225)].map((elevation) =>
        half(liner(32, { elevation }), ROUND, 225 + away),
      );
      expectWithin(ramped ?? 0, walled ?? 1, 0.001);
    }
  });

  test('a search along ramps finds what a fine walk along the edge finds', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('on-sphere' as const, 'straight-wall' as const),
        fc.double({ min: 5, max: 40, noNaN: true }),
        fc.double({ min: -120, max: 120, noNaN: true }),
        (shape, ramp, away) => {
          const elevation = { ...lip(shape, 225), ramp: degrees(ramp) };
          const found = half(liner(32, { elevation }), ROUND, 225 + away);
          expectWithin(found, walkedHalf(ramp, shape, away), 2e-4);
          expect(found).toBeLessThanOrEqual(walkedHalf(ramp, shape, away) + 1e-7);
        },
      ),
      { seed: 3, numRuns: 60 },
    );
  });
});

/** The same half oscillation by brute force: every point of the edge, 20,000 of them, closed form for each. */
function walkedHalf(ramp: number, shape: 'on-sphere' | 'straight-wall', away: number): number {
  let least = 67.975687162;
  for (let step = 0; step <= 20_000; step += 1) {
    const at = -(45 + ramp) + (step / 20_000) * 2 * (45 + ramp);
    const share = Math.min(1, (45 + ramp - Math.abs(at)) / ramp);
    const polar = ((90 - 15 * share) * Math.PI) / 180;
    const distance = shape === 'on-sphere' ? 16 : 16 / Math.sin(polar);
    const beside = ((at - away) * Math.PI) / 180;
    const [up, out] = [Math.cos(polar), Math.sin(polar) * Math.cos(beside)];
    const cosine = Math.sqrt(1 - (6 / distance) ** 2) / Math.hypot(up, out);
    if (cosine > 1) continue;
    const lean = ((Math.atan2(out, up) - Math.acos(cosine)) * 180) / Math.PI;
    if (lean >= 0) least = Math.min(least, lean);
  }
  return least;
}

describe('the rim as geometry', () => {
  test('a rim direction lies at its azimuth, in the opening plane', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 5, max: 85, noNaN: true }),
        fc.double({ min: -40, max: 60, noNaN: true }),
        fc.double({ min: 0, max: 359.9, noNaN: true }),
        (inclination, anteversion, azimuth) => {
          const axis = cupAxis({
            definition: 'radiographic',
            inclination: degrees(inclination),
            anteversion: degrees(anteversion),
          });
          const direction = rimDirection(axis, degrees(azimuth));
          expectWithin(angleBetween(axis, direction), 90, 1e-9);
          const back = rimAzimuth(axis, direction) ?? NaN;
          expectWithin(Math.abs(((back - azimuth + 540) % 360) - 180), 0, 1e-7);
        },
      ),
      { seed: 4 },
    );
  });

  test('a face turned toward the front opens that much further forward', () => {
    const turned = openingAxis(pelvisVector(0, 0, 1), { angle: degrees(10), toward: degrees(90) });
    expectWithin(angleBetween(turned, pelvisVector(1, 0, 0)), 80, 1e-9);
  });

  test('a lip as high as half the radius adds 30 degrees of cover', () => {
    expectWithin(elevationFromHeight(millimetres(7), millimetres(28)), 30, 1e-9);
  });

  test('an elevation falls evenly over its ramps, round the far side of zero too', () => {
    const elevation = { ...lip('on-sphere', 350), ramp: degrees(20) };
    expect(elevationShare(elevation, degrees(30))).toBe(1);
    expectWithin(elevationShare(elevation, degrees(45)), 0.5, 1e-12);
    expect(elevationShare(elevation, degrees(180))).toBe(0);
  });

  test('a straight wall adds the cover it says', () => {
    const [, edge] = rimSection(liner(32, { elevation: lip('straight-wall', 225) }), 1);
    expectWithin((edge?.height ?? 0) / (edge?.radius ?? 1), tanDeg(15), 1e-12);
  });
});

describe('what is no liner or no neck', () => {
  test.each([
    ['a bore of nothing', () => rimSection(liner(0), 0), /bore must be positive/],
    [
      'a center outside the head',
      () => rimSection(liner(28, { centerOffset: millimetres(14) }), 0),
      /center offset must be smaller than the bore's radius 14 mm, got 14 mm/,
    ],
    [
      'an opening above half',
      () => rimSection(liner(28, { opening: degrees(190) }), 0),
      /opening must lie in \(0, 180\]/,
    ],
    [
      'a held head with its center elsewhere',
      () => rimSection(liner(28, { opening: degrees(150), centerOffset: millimetres(1) }), 0),
      /center offset must be 0/,
    ],
    ['a rim without wall', () => rimSection(liner(28, { wall: millimetres(0) }), 0), /wall must be positive/],
    [
      'an elevation all round',
      () => rimSection(liner(28, { elevation: { ...lip('on-sphere', 0, 60), arc: degrees(250) } }), 1),
      /less than 360/,
    ],
    [
      'a flat chamfer',
      () => rimSection(liner(28, { chamfer: { depth: millimetres(1), angle: degrees(90) } }), 0),
      /angle in \(0, 90\)/,
    ],
    [
      'a neck as thick as the head',
      () => neckSections({ diameter: millimetres(28) }, millimetres(28)),
      /neck/,
    ],
    [
      'flats wider than the neck',
      () => neckSections({ diameter: millimetres(12), flats: millimetres(13) }, millimetres(28)),
      /flats/,
    ],
    [
      'a skirt without length',
      () =>
        neckSections(
          { ...ROUND, skirt: { diameter: millimetres(16), length: millimetres(0) } },
          millimetres(28),
        ),
      /skirt length must be positive/,
    ],
  ])('%s is refused', (_, build, message) => {
    expect(build).toThrow(message);
  });
});
