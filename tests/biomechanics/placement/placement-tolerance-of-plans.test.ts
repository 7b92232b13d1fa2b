import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import { placementTolerancesOfPlans } from '../../../src/biomechanics/placement/placement-tolerance-of-plans.js';
import { placementToleranceOfPoses } from '../../../src/biomechanics/placement/placement-tolerance-of-poses.js';
import { placement, PLANNED } from '../planned-placement.js';

const { seed, scatter, neckShaftAngle, oscillationAngle, poses } = PLANNED;
const SIMULATION = { seed, scatter, neckShaftAngle, oscillationAngle, poses };

describe('the placement tolerances of several plans', () => {
  test('are those of each plan alone, to the last count', () => {
    // Truth: independent implementation: the form that works out every sine and cosine anew.
    const plans = fc.tuple(
      fc.double({ min: 15, max: 70, noNaN: true }),
      fc.double({ min: -20, max: 50, noNaN: true }),
      fc.double({ min: -30, max: 45, noNaN: true }),
    );
    fc.assert(
      fc.property(
        fc.array(plans, { minLength: 1, maxLength: 3 }),
        fc.integer({ min: 80, max: 160 }),
        (many, swing) => {
          const simulation = { ...SIMULATION, oscillationAngle: degrees(swing) };
          const placements = many.map((angles) => placement(...angles));
          expect(placementTolerancesOfPlans({ ...simulation, plans: placements })).toEqual(
            placements.map((plan) => placementToleranceOfPoses({ ...simulation, plan })),
          );
        },
      ),
      { numRuns: 15, seed: 9 },
    );
  });

  test('are worked out anew for another seed and another scatter, and again for the first', () => {
    const plan = placement(40, 20, 15);
    const cases = [
      SIMULATION,
      { ...SIMULATION, seed: SIMULATION.seed + 1 },
      { ...SIMULATION, scatter: placement(40, 50, 45) },
      SIMULATION,
    ];
    for (const simulation of cases)
      expect(placementTolerancesOfPlans({ ...simulation, plans: [plan] })).toEqual([
        placementToleranceOfPoses({ ...simulation, plan }),
      ]);
  });

  test('refuse what cannot be simulated', () => {
    const plans = [placement(40, 20, 15)];
    const refused = [
      { ...SIMULATION, plans, poses: [] },
      { ...SIMULATION, plans, oscillationAngle: degrees(360) },
      { ...SIMULATION, plans, oscillationAngle: degrees(0) },
      { ...SIMULATION, plans: [placement(0, 20, 15)] },
      { ...SIMULATION, plans, scatter: placement(-1, 1, 1) },
    ];
    for (const simulation of refused)
      expect(() => placementTolerancesOfPlans(simulation)).toThrow(RangeError);
  });
});
