import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { combinedSagittalIndex } from '../../../src/biomechanics/spine/combined-sagittal-index.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

function index(anteInclination: number, pelvicFemoralAngle: number): number {
  return combinedSagittalIndex({
    anteInclination: degrees(anteInclination),
    pelvicFemoralAngle: degrees(pelvicFemoralAngle),
  });
}

describe('the combined sagittal index', () => {
  for (const id of ['csi-typical-standing', 'csi-typical-sitting']) {
    const { inputs, expected, label } = workedExample('spinopelvic', id, {
      inputs: z.object({ AI: z.number(), PFA: z.number() }),
      expected: z.object({ CSI: z.number() }),
    });
    test(`of published means (${label})`, () => {
      expect(index(inputs.AI, inputs.PFA)).toBe(expected.CSI);
    });
  }

  test('grows by two degrees for each degree the pelvis rolls back over a resting femur', () => {
    // Closed form: ante-inclination and the angle between pelvis and femur both open by the roll.
    fc.assert(
      fc.property(evenly(0, 70), evenly(90, 200), evenly(-30, 30), (ante, femoral, roll) => {
        expectWithin(index(ante + roll, femoral + roll) - index(ante, femoral), 2 * roll, 1e-9);
      }),
      { seed: 113 },
    );
  });
});
