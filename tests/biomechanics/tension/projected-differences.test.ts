import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { millimetres } from '../../../src/base/units.js';
import {
  projectedGlobalOffsetDifference,
  projectedLegLengthDiscrepancy,
} from '../../../src/biomechanics/tension/projected-differences.js';
import { recordNamed } from '../../rulebook/evidence.js';
import { expectWithin } from '../tolerance.js';

const length = fc.double({ min: -80, max: 80, noNaN: true });

function leg(native: number, change: number): number {
  return projectedLegLengthDiscrepancy({ native: millimetres(native), change: millimetres(change) });
}

function offset(native: number, femoral: number, medial: number): number {
  return projectedGlobalOffsetDifference({
    native: millimetres(native),
    femoralOffsetChange: millimetres(femoral),
    centerMedialization: millimetres(medial),
  });
}

describe('the leg length a plan leads to', () => {
  test('of a leg 18 mm short that is lengthened by 16 mm is 2 mm short; of an even one lengthened by 12 mm, 12 long', () => {
    // Clinical decisions §4 and §10: the length rule asks for native discrepancy + change, not for the change.
    expect(leg(-18, 16)).toBe(-2);
    expect(leg(0, 12)).toBe(12);
  });

  test('is what it was when nothing is changed, and even when the change is the whole discrepancy', () => {
    fc.assert(
      fc.property(length, (native) => {
        expectWithin(leg(native, 0), native, 0);
        expect(leg(native, -native)).toBeCloseTo(0, 12);
      }),
      { seed: 31 },
    );
  });
});

describe('the global offset a plan leads to', () => {
  test('loses at the cup what the center moves medially, and gains at the femur', () => {
    // Published: global offset is femoral plus acetabular offset (10.1186/s12891-020-03674-8); signs as in the clinical decisions §4.
    expect(offset(0, 0, 6)).toBe(-6);
    expect(offset(0, 6, 0)).toBe(6);
    expect(offset(-3, 5, 5)).toBe(-3);
    expect(offset(2, 0, -4)).toBe(6);
  });

  test('follows femur and center from their positions in a frontal plane', () => {
    // Closed form by another way: distances from the midline. Lateral positions of center and shaft before and after.
    fc.assert(
      fc.property(length, length, length, length, (center, shaft, medial, femoral) => {
        const before = Math.abs(center) + Math.abs(shaft);
        const after = Math.abs(center) - medial + (Math.abs(shaft) + femoral);
        expectWithin(offset(0, femoral, medial), after - before, 1e-9);
      }),
      { seed: 32 },
    );
  });

  test('of a series that medialized by 5.3 mm and added 6.1 mm at the femur is 0.8 mm more (Clement 2016)', () => {
    // Published: 10.1007/s00402-016-2527-4, abstract; acetabular offset -5.3, femoral offset +6.1. The sum is ours.
    const { value } = z
      .object({
        value: z.object({ acetabularOffsetChangeMm: z.number(), femoralOffsetChangeMm: z.number() }),
      })
      .parse(recordNamed('offset-medialise-and-compensate'));
    expectWithin(offset(0, value.femoralOffsetChangeMm, -value.acetabularOffsetChangeMm), 0.8, 1e-9);
  });
});
