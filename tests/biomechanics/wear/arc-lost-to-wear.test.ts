import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import { arcLostToWear, type WornArticulation } from '../../../src/biomechanics/wear/arc-lost-to-wear.js';
import { oscillationAngle } from '../../../src/biomechanics/range/head-neck.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

interface Numbers {
  readonly head?: number;
  readonly neck?: number;
  readonly offset?: number;
  readonly depth: number;
  readonly angle?: number;
}

function worn({ head = 28, neck = 12, offset = 0, depth, angle = 0 }: Numbers): WornArticulation {
  return {
    head: millimetres(head),
    neck: millimetres(neck),
    centerOffset: millimetres(offset),
    penetration: millimetres(depth),
    angleToCupAxis: degrees(angle),
  };
}

function lost(numbers: Numbers): number {
  return arcLostToWear(worn(numbers));
}

const table = workedExample('head-neck', 'osc-axial-penetration', {
  inputs: z.object({
    headDiameterMm: z.array(z.number()),
    neckDiameterMm: z.number(),
    axialPenetrationMm: z.array(z.number()),
  }),
  expected: z.object({ table: z.record(z.string(), z.array(z.number())) }),
});

describe('arc lost to wear along the cup axis', () => {
  // Derived, from memory; two angles of two decimals are subtracted.
  test.each(table.inputs.headDiameterMm)(
    `a %s mm head loses the arc of the table (${table.label})`,
    (head) => {
      const arcs = table.expected.table[String(head)] ?? [];
      table.inputs.axialPenetrationMm.forEach((depth, index) => {
        const expected = (arcs[0] ?? Number.NaN) - (arcs[index] ?? Number.NaN);
        expectWithin(lost({ head, neck: table.inputs.neckDiameterMm, depth }), expected, 0.01 + 1e-9);
      });
      expect(arcs).toHaveLength(table.inputs.axialPenetrationMm.length);
    },
  );

  // The slope of a regression published in 2011 (10.15106/J00764.2011186420, read in a paper that cites it), 8.12 degrees per mm
  // of center offset over its heads and necks; half a degree covers that a single pair is not the mean.
  test('the first millimetre costs a 28 mm head about 8.1 degrees', () => {
    expectWithin(lost({ depth: 1 }), 8.12, 0.5);
  });
});

describe('oblique wear', () => {
  test('only the part along the cup axis counts', () => {
    expectWithin(lost({ depth: 2, angle: 60 }), lost({ depth: 1 }), 1e-10);
    expectWithin(lost({ depth: 2, angle: 90 }), 0, 1e-10);
    expect(lost({ depth: 0, angle: 30 })).toBe(0);
  });
});

describe('properties', () => {
  const head = fc.double({ min: 22, max: 40, noNaN: true });
  const neck = fc.double({ min: 8, max: 16, noNaN: true });
  const offset = fc.double({ min: -2, max: 3, noNaN: true });
  const depth = fc.double({ min: 0, max: 6, noNaN: true });
  const angle = fc.double({ min: 0, max: 90, noNaN: true });
  const more = fc.double({ min: 0.001, max: 2, noNaN: true });

  test('the arc never grows with penetration, in whatever inward direction', () => {
    fc.assert(
      fc.property(head, neck, offset, depth, angle, more, (h, n, o, w, b, added) => {
        const less = lost({ head: h, neck: n, offset: o, depth: w, angle: b });
        expect(less).toBeGreaterThanOrEqual(0);
        // At 90 degrees nothing is lost at all; rounding of two equal angles.
        expect(lost({ head: h, neck: n, offset: o, depth: w + added, angle: b })).toBeGreaterThanOrEqual(
          less - 1e-11,
        );
      }),
      { seed: 81 },
    );
  });

  test('what is lost and what is left make up the unworn arc', () => {
    fc.assert(
      fc.property(head, neck, offset, depth, (h, n, o, w) => {
        const left = oscillationAngle({
          head: millimetres(h),
          neck: millimetres(n),
          centerOffset: millimetres(o - w),
        });
        const whole = oscillationAngle({
          head: millimetres(h),
          neck: millimetres(n),
          centerOffset: millimetres(o),
        });
        expectWithin(lost({ head: h, neck: n, offset: o, depth: w }) + left, whole, 1e-10);
      }),
      { seed: 82 },
    );
  });

  test('a direction nearer to the cup axis never costs less', () => {
    fc.assert(
      fc.property(depth, angle, more, (w, b, off) => {
        expect(lost({ depth: w, angle: Math.min(90, b + off) })).toBeLessThanOrEqual(
          lost({ depth: w, angle: b }) + 1e-11,
        );
      }),
      { seed: 83 },
    );
  });
});

describe('domain errors', () => {
  test.each([
    [{ depth: -1 }, 'penetration must not be negative'],
    [{ depth: 1, angle: 120 }, 'angle to the cup axis'],
    [{ depth: 1, neck: 30 }, 'neck diameter'],
    [{ depth: 14 }, 'center offset'],
  ])('%o is refused: %s', (numbers, part) => {
    expect(() => lost(numbers)).toThrow(RangeError);
    expect(() => lost(numbers)).toThrow(part);
  });
});
