import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { hipUserIndex } from '../../../src/biomechanics/spine/hip-user-index.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

function index(hip: number, lumbar: number): number {
  return hipUserIndex({ hip: degrees(hip), lumbar: degrees(lumbar) });
}

describe('the hip-user index', () => {
  const { inputs, expected, label } = workedExample('spinopelvic', 'hip-user-index', {
    inputs: z.object({ dPFA: z.number(), dLL: z.number() }),
    expected: z.object({ HUI: z.number() }),
  });
  test(label, () => {
    // Printed to two decimals.
    expectWithin(index(inputs.dPFA, inputs.dLL), expected.HUI, 0.005 + 1e-9);
  });

  test('is 100 for a spine that does not move, 50 for equal shares, and more than 100 for a spine that extends', () => {
    // Closed form.
    expect(index(80, 0)).toBe(100);
    expect(index(40, 40)).toBe(50);
    expect(index(80, -10)).toBeGreaterThan(100);
  });

  test('of hip and of spine add up to 100', () => {
    const share = evenly(0.1, 120);
    fc.assert(
      fc.property(share, share, (hip, lumbar) => {
        expectWithin(index(hip, lumbar) + index(lumbar, hip), 100, 1e-9);
      }),
      { seed: 114 },
    );
  });

  test('is refused for somebody who does not sit down', () => {
    expect(() => index(0, 0)).toThrow(RangeError);
    expect(() => index(10, -12)).toThrow(RangeError);
  });
});
