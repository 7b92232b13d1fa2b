import jstat from 'jstat';
import { describe, expect, test } from 'vitest';
import { roundForUnit } from '../../../src/base/rounding.js';
import { degrees, type Degrees } from '../../../src/base/units.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { worstImpingementMargin } from '../../../src/biomechanics/range/impingement-margin.js';
import {
  placementToleranceOfPoses,
  type PosesSimulation,
} from '../../../src/biomechanics/placement/placement-tolerance-of-poses.js';
import {
  placementTolerance,
  type PlacementTolerance,
} from '../../../src/biomechanics/placement/placement-tolerance.js';
import { neckAxis, type NamedPose } from '../../../src/biomechanics/motion/pose.js';
import { oscillation as oscillationOf } from '../oscillation.js';
import { countReached } from '../plain-sampling.js';
import { NECK, placement, PLANNED } from '../planned-placement.js';
import { expectWithin } from '../tolerance.js';

const HEADS = [28, 36] as const;
const POINTS = 10_000;
const SEEDS = Array.from({ length: 100 }, (_, index) => index + 1);

function oscillation(head: number): Degrees {
  return oscillationOf(head, NECK);
}

function rootMeanSquare(errors: readonly number[]): number {
  return Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
}

/** Clopper and Pearson's exact interval of a share. */
function exactInterval(count: number, size: number): { readonly low: number; readonly high: number } {
  return {
    low: count === 0 ? 0 : jstat.beta.inv(0.025, count, size - count + 1),
    high: count === size ? 1 : jstat.beta.inv(0.975, count + 1, size - count),
  };
}

describe('against plain sampling of four million placements', () => {
  const REFERENCE_POINTS = 4_000_000;
  // Two cylinders touch rim and neck where the angle's cosine is neck / head: no oscillation angle of ours is used.
  const limits = HEADS.map((head) => NECK / head);
  const reference = countReached({ ...PLANNED, seed: 20_260_101, size: REFERENCE_POINTS }, limits);
  const plain = SEEDS.map((seed) => countReached({ ...PLANNED, seed, size: POINTS }, limits));

  describe.each(HEADS.map((head, index) => ({ head, index })))(
    'head $head on a 12 mm neck',
    ({ head, index }) => {
      const truth = (reference[index] ?? Number.NaN) / REFERENCE_POINTS;
      const ours = SEEDS.map((seed) =>
        placementToleranceOfPoses({ ...PLANNED, seed, oscillationAngle: oscillation(head) }),
      );
      const plainCounts = plain.map((counts) => counts[index] ?? Number.NaN);
      const error = rootMeanSquare(ours.map(({ share }) => share - truth));
      const covers = ({ low, high }: Pick<PlacementTolerance, 'low' | 'high'>): boolean =>
        low <= truth && truth <= high;
      const halfWidth = ours.reduce((sum, { low, high }) => sum + (high - low) / 2, 0) / ours.length;

      test('the 95 % interval covers the reference in at least 90 of 100 seeds', () => {
        const covered = ours.filter(covers).length;
        process.stdout.write(
          `placement tolerance, head ${head}: reference ${truth}, half interval ${halfWidth.toFixed(5)}, covered ${covered}\n`,
        );
        expect(covered).toBeGreaterThanOrEqual(90);
      });

      test('the error is at most half that of as many plain samples, found and by theory', () => {
        const found = rootMeanSquare(plainCounts.map((count) => count / POINTS - truth));
        const theory = Math.sqrt((truth * (1 - truth)) / POINTS);
        process.stdout.write(
          `placement tolerance, head ${head}: error ${error.toFixed(5)}, plain ${found.toFixed(5)}, by theory ${theory.toFixed(5)}\n`,
        );
        expect(error / found).toBeLessThanOrEqual(0.5);
        expect(error / theory).toBeLessThanOrEqual(0.5);
      });

      test('the exact interval of plain samples covers the reference as often, and is wider', () => {
        const exact = plainCounts.map((count) => exactInterval(count, POINTS));
        expect(exact.filter(covers).length).toBeGreaterThanOrEqual(90);
        const exactHalf = exact.reduce((sum, { low, high }) => sum + (high - low) / 2, 0) / exact.length;
        expect(halfWidth / exactHalf).toBeLessThan(0.6);
      });

      test('the mean over all seeds differs from the reference by no more than both scatter', () => {
        const mean = ours.reduce((sum, { share }) => sum + share, 0) / ours.length;
        const both = Math.hypot(
          error / Math.sqrt(SEEDS.length),
          Math.sqrt((truth * (1 - truth)) / REFERENCE_POINTS),
        );
        expectWithin(mean, truth, 3 * both);
      });
    },
  );
});

describe('the fast form', () => {
  const general = (
    simulation: PosesSimulation & { readonly poses: readonly NamedPose[] },
  ): PlacementTolerance =>
    placementTolerance({
      plan: simulation.plan,
      scatter: simulation.scatter,
      seed: simulation.seed,
      reaches: ({ inclination, anteversion, stemAnteversion }) => {
        const geometry = {
          cupAxis: cupAxis({ definition: 'radiographic', inclination, anteversion }),
          neckAxis: neckAxis({
            anteversion: stemAnteversion,
            neckShaftAngle: simulation.neckShaftAngle,
          }),
          oscillationAngle: simulation.oscillationAngle,
        };
        return roundForUnit(worstImpingementMargin(geometry, simulation.poses).margin, 'deg') >= 0;
      },
    });
  const stooping: NamedPose = {
    name: 'stooping',
    flexion: degrees(75),
    abduction: degrees(-12),
    externalRotation: degrees(-20),
  };

  test.each([
    ['head 28', PLANNED],
    ['head 36, another seed', { ...PLANNED, oscillationAngle: oscillation(36), seed: 77 }],
    [
      'a low neck-shaft angle and a pose about all three axes',
      { ...PLANNED, neckShaftAngle: degrees(125), poses: [stooping] },
    ],
    ['scatter that leaves the domain', { ...PLANNED, scatter: placement(40, 50, 45), seed: 3 }],
    [
      'an oscillation angle beyond a half turn',
      { ...PLANNED, oscillationAngle: degrees(200), scatter: placement(20, 20, 20) },
    ],
  ] as const)('gives the same counts as the general form with the worst margin: %s', (_, simulation) => {
    const fast = placementToleranceOfPoses(simulation);
    expect(fast).toEqual(general(simulation));
    expect(fast.share).toBeGreaterThan(0);
    expect(fast.share).toBeLessThan(1);
  });

  test('counts contact itself as reached, and a margin that is reported as 0', () => {
    const still = { ...PLANNED, scatter: placement(0, 0, 0) };
    const geometry = {
      cupAxis: cupAxis({ definition: 'radiographic', ...PLANNED.plan }),
      neckAxis: neckAxis({ anteversion: degrees(15), neckShaftAngle: degrees(135) }),
      oscillationAngle: PLANNED.oscillationAngle,
    };
    const contact = 2 * worstImpingementMargin(geometry, PLANNED.poses).axisAngle;
    const shareAt = (angle: number): number =>
      placementToleranceOfPoses({ ...still, oscillationAngle: degrees(angle) }).share;
    expect(shareAt(contact)).toBe(1);
    expect(shareAt(contact - 0.8e-6)).toBe(1);
    expect(shareAt(contact - 1.2e-6)).toBe(0);
  });
});

describe('the share', () => {
  const shareOf = (changes: Partial<PosesSimulation>): number =>
    placementToleranceOfPoses({ ...PLANNED, ...changes }).share;

  test('rises with the head, placement by placement', () => {
    const shares = [22, 28, 32, 36, 40, 44].map((head) => shareOf({ oscillationAngle: oscillation(head) }));
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
    expect(new Set(shares).size).toBe(shares.length);
  });

  test('falls with the scatter about a plan that reaches every pose', () => {
    const shares = [0, 0.25, 0.5, 1, 1.5, 2, 3].map((factor) =>
      shareOf({
        oscillationAngle: oscillation(36),
        scatter: placement(6.7 * factor, 8.1 * factor, 7.4 * factor),
      }),
    );
    expect(shares[0]).toBe(1);
    for (const [index, share] of shares.slice(2).entries()) {
      expect(share).toBeLessThan(shares[index + 1] ?? Number.NaN);
    }
  });

  test('falls with each pose asked for, and does not depend on their order or repetition', () => {
    const [first, second, third, fourth] = PLANNED.poses;
    if (!first || !second || !third || !fourth) throw new Error('four poses expected');
    expect(shareOf({ poses: [first] })).toBeGreaterThan(shareOf({ poses: [first, second, fourth] }));
    expect(shareOf({ poses: [fourth, third, third, second, first] })).toBe(shareOf({}));
  });

  // Anteversion of the stem and external rotation turn about the same axis.
  test('is the same when the stem is planned 10 degrees further forward and every pose is turned in by 10', () => {
    const turned = PLANNED.poses.map((pose) => ({
      ...pose,
      externalRotation: degrees(pose.externalRotation - 10),
    }));
    expect(shareOf({ plan: placement(40, 20, 25), poses: turned })).toBe(shareOf({}));
  });

  test('in the example of the doc block is as printed there', () => {
    const found = placementToleranceOfPoses({ ...PLANNED, poses: PLANNED.poses.slice(0, 1) });
    expect(PLANNED.poses[0]).toMatchObject({ flexion: 110, abduction: 0, externalRotation: 0 });
    expect(found).toMatchObject({ share: 0.9237, points: 10_000, seed: 1 });
    expectWithin(found.low, 0.9225, 5e-5);
    expectWithin(found.high, 0.9249, 5e-5);
  });
});

test('no pose, and angles no hip has, are refused', () => {
  expect(() => placementToleranceOfPoses({ ...PLANNED, poses: [] })).toThrow(RangeError);
  expect(() => placementToleranceOfPoses({ ...PLANNED, neckShaftAngle: degrees(90) })).toThrow(RangeError);
  for (const angle of [0, 360, -10]) {
    expect(() => placementToleranceOfPoses({ ...PLANNED, oscillationAngle: degrees(angle) })).toThrow(
      RangeError,
    );
  }
});
