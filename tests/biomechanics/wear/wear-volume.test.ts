import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import { wearVolume, wearVolumeCylinder } from '../../../src/biomechanics/wear/wear-volume.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

function volume(head: number, penetration: number, angle: number): number {
  return wearVolume({
    head: millimetres(head),
    penetration: millimetres(penetration),
    angleToCupAxis: degrees(angle),
  });
}

function cylinder(head: number, penetration: number): number {
  return wearVolumeCylinder(millimetres(head), millimetres(penetration));
}

/**
 * The same volume by points: a grid over the box around the worn liner, counting points inside the cup's side of the opening
 * plane, outside the unworn head and inside the moved sphere at any moment. Knows nothing of discs and segments.
 */
function volumeByPoints(head: number, penetration: number, angle: number, cells: number): number {
  const radius = head / 2;
  const radians = (angle * Math.PI) / 180;
  // The cup opens to +z; the head travels in the x-z plane, down and toward +x.
  const [travelX, travelZ] = [Math.sin(radians), -Math.cos(radians)];
  const [width, depth] = [radius + penetration * travelX, radius - penetration * travelZ];
  const [stepX, stepY, stepZ] = [(2 * width) / cells, (2 * radius) / cells, depth / cells];
  let inside = 0;
  for (let i = 0; i < cells; i += 1) {
    const x = -width + (i + 0.5) * stepX;
    for (let j = 0; j < cells; j += 1) {
      const y = -radius + (j + 0.5) * stepY;
      for (let k = 0; k < cells; k += 1) {
        const z = -(k + 0.5) * stepZ;
        if (x * x + y * y + z * z <= radius * radius) continue;
        const along = Math.min(penetration, Math.max(0, x * travelX + z * travelZ));
        const [dx, dz] = [x - along * travelX, z - along * travelZ];
        if (dx * dx + y * y + dz * dz <= radius * radius) inside += 1;
      }
    }
  }
  return inside * stepX * stepY * stepZ;
}

/**
 * The same volume as columns along the travel over the head's disc: each is as long as the penetration, cut where it leaves the
 * cup. On a circle about the travel the cut columns lie between two angles and sum up exactly; the circles are added by the
 * midpoint rule, in a coordinate that takes out the root at the disc's edge.
 */
function volumeByColumns(head: number, penetration: number, angle: number, circles: number): number {
  const radius = head / 2;
  const slope = Math.tan((angle * Math.PI) / 180);
  let sum = 0;
  for (let i = 0; i < circles; i += 1) {
    const polar = ((i + 0.5) / circles) * (Math.PI / 2);
    const [distance, height] = [radius * Math.sin(polar), radius * Math.cos(polar)];
    // A column is whole where distance x cos(turn) x slope <= height, and gone from penetration + height on.
    const whole = Math.acos(Math.min(1, height / (distance * slope)));
    const gone = Math.acos(Math.min(1, (penetration + height) / (distance * slope)));
    const cut =
      (penetration + height) * (whole - gone) - distance * slope * (Math.sin(whole) - Math.sin(gone));
    sum += 2 * (penetration * (Math.PI - whole) + cut) * distance * height;
  }
  return (sum * (Math.PI / 2)) / circles;
}

describe('the cylinder', () => {
  const table = workedExample('wear', 'wear-volume-cylinder', {
    inputs: z.object({ headDiameterMm: z.array(z.number()), linearMmPerYear: z.number() }),
    expected: z.object({ volumeMm3PerYear: z.array(z.number()) }),
    notes: z.object({
      published: z.object({ linearMmPerYear: z.number(), volumetricMm3PerYear: z.number() }),
    }),
  });

  test(`four heads wear the volumes of the table (${table.label})`, () => {
    const { headDiameterMm, linearMmPerYear } = table.inputs;
    expect(headDiameterMm).toHaveLength(4);
    headDiameterMm.forEach((head, index) => {
      expectWithin(
        cylinder(head, linearMmPerYear),
        table.expected.volumeMm3PerYear[index] ?? Number.NaN,
        0.05 + 1e-9,
      );
    });
  });

  // Suggestive only: the paper's head size was not in the part read.
  test(`one published pair is that of a 26 mm head (${table.label})`, () => {
    const { linearMmPerYear, volumetricMm3PerYear } = table.notes.published;
    expectWithin(cylinder(26, linearMmPerYear), volumetricMm3PerYear, 0.05 + 1e-9);
  });
});

describe('the volume between cup and sunken head', () => {
  // Independent: a grid of 160^3 points. Its error is about the area of the worn surface times a thousandth of a step.
  test.each([
    [28, 4, 0],
    [28, 4, 45],
    [28, 4, 75],
    [28, 10, 60],
    [36, 3, 50],
  ])('head %s mm, %s mm deep at %s degrees agrees with a count of points to 0.5 %%', (head, depth, angle) => {
    const counted = volumeByPoints(head, depth, angle, 160);
    expectWithin(volume(head, depth, angle) / counted, 1, 0.005);
  });

  // Independent: columns over the disc. The midpoint rule over 20,000 circles errs by about 1e-8 at its kinks.
  test.each([
    [28, 2, 1],
    [28, 2, 20],
    [28, 0.05, 45],
    [28, 5, 70],
    [28, 5, 89],
    [28, 12, 30],
    [28, 20, 60],
    [36, 1, 89.99],
    [36, 1, 0.01],
  ])(
    'head %s mm, %s mm deep at %s degrees agrees with columns over the disc to 1e-7',
    (head, depth, angle) => {
      expectWithin(volume(head, depth, angle) / volumeByColumns(head, depth, angle, 20_000), 1, 1e-7);
    },
  );

  // Closed forms: all of the front lies in the cup, or half of it.
  test('along the cup axis it is the cylinder, in the opening plane half of it', () => {
    expectWithin(volume(28, 2, 0), cylinder(28, 2), 1e-9);
    expectWithin(volume(28, 2, 90), cylinder(28, 2) / 2, 1e-9);
    expectWithin(volume(28, 2, 90 - 1e-9), cylinder(28, 2) / 2, 1e-6);
    expectWithin(volume(28, 2, 1e-9), cylinder(28, 2), 1e-6);
  });

  // Closed form, ours: for a small depth the front inside the cup covers a half disc and a half ellipse.
  test('a small depth wears the cylinder times (1 + cos b) / 2', () => {
    for (const angle of [10, 30, 45, 60, 80]) {
      const share = (1 + Math.cos((angle * Math.PI) / 180)) / 2;
      expectWithin(volume(28, 1e-6, angle) / cylinder(28, 1e-6), share, 1e-6);
    }
  });

  test('once the head stands wholly below the rim of its front, each further millimetre wears a whole cylinder', () => {
    // Closed form: from w cos b = R sin b on nothing of the front stands outside. 14 mm at 45 degrees.
    expectWithin(volume(28, 20, 45) - volume(28, 14, 45), cylinder(28, 6), 1e-8);
    expect(volume(28, 14, 45) - volume(28, 8, 45)).toBeLessThan(cylinder(28, 6));
  });
});

describe('properties', () => {
  const head = fc.double({ min: 22, max: 40, noNaN: true });
  const depth = fc.double({ min: 0, max: 20, noNaN: true });
  const angle = fc.double({ min: 0, max: 90, noNaN: true });
  const step = fc.double({ min: 0.01, max: 5, noNaN: true });

  test('it never falls as the head sinks, nor rises as the direction leaves the cup axis', () => {
    fc.assert(
      fc.property(head, depth, angle, step, (h, w, b, more) => {
        expect(volume(h, w + more, b)).toBeGreaterThan(volume(h, w, b));
        // Rounding: volumes of up to 1e5 in doubles.
        expect(volume(h, w, Math.min(90, b + more))).toBeLessThanOrEqual(volume(h, w, b) + 1e-8);
      }),
      { seed: 71 },
    );
  });

  test('it lies between the first-order volume and the cylinder', () => {
    fc.assert(
      fc.property(head, depth, angle, (h, w, b) => {
        const whole = cylinder(h, w);
        expect(volume(h, w, b)).toBeLessThanOrEqual(whole + 1e-8);
        const share = (1 + Math.cos((b * Math.PI) / 180)) / 2;
        expect(volume(h, w, b)).toBeGreaterThanOrEqual(whole * share - 1e-8);
      }),
      { seed: 72 },
    );
  });

  test('it grows with the cube of a common scale', () => {
    fc.assert(
      fc.property(head, depth, angle, (h, w, b) => {
        expectWithin(volume(2 * h, 2 * w, b), 8 * volume(h, w, b), 1e-6);
      }),
      { seed: 73 },
    );
  });
});

describe('domain errors', () => {
  test.each([
    [0, 1, 45, 'head diameter'],
    [28, -1, 45, 'penetration'],
    [28, 1, -1, 'angle to the cup axis'],
    [28, 1, 91, 'angle to the cup axis'],
  ])('head %s, depth %s, angle %s is refused with a message about the %s', (h, w, b, part) => {
    expect(() => volume(h, w, b)).toThrow(RangeError);
    expect(() => volume(h, w, b)).toThrow(part);
  });

  test('a cylinder of no head or of a negative depth is refused', () => {
    expect(() => cylinder(0, 1)).toThrow('head diameter');
    expect(() => cylinder(28, -1)).toThrow('penetration');
  });
});
