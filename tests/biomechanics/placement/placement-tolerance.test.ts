import jstat from 'jstat';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import {
  placementTolerance,
  type Placement,
  type PlacementSimulation,
} from '../../../src/biomechanics/placement/placement-tolerance.js';
import { expectWithin } from '../tolerance.js';

function placement(inclination: number, anteversion: number, stemAnteversion: number): Placement {
  return {
    inclination: degrees(inclination),
    anteversion: degrees(anteversion),
    stemAnteversion: degrees(stemAnteversion),
  };
}

const SIMULATION: PlacementSimulation = {
  plan: placement(40, 20, 15),
  scatter: placement(6.7, 8.1, 7.4),
  seed: 1,
};

/** Distances from the plan in standard deviations. */
function deviations({
  inclination,
  anteversion,
  stemAnteversion,
}: Placement): readonly [number, number, number] {
  const { plan, scatter } = SIMULATION;
  return [
    (inclination - plan.inclination) / scatter.inclination,
    (anteversion - plan.anteversion) / scatter.anteversion,
    (stemAnteversion - plan.stemAnteversion) / scatter.stemAnteversion,
  ];
}

function normalShare(z: number): number {
  return jstat.normal.cdf(z, 0, 1);
}

describe('questions whose share is known in closed form', () => {
  // Each set has one point in every 1/625 of the axis that carries the sum, so that is counted right to one point a set.
  test.each([-2, -0.5, 0, 0.3, 1, 2.5])('a sum of the three errors below %s of its deviations', (limit) => {
    const found = placementTolerance({
      ...SIMULATION,
      reaches: (placed) => deviations(placed).reduce((sum, one) => sum + one, 0) / Math.sqrt(3) < limit,
    });
    expectWithin(found.share, normalShare(limit), 1 / 625);
  });

  const within = (placed: Placement, limit: number): boolean =>
    deviations(placed).every((deviation) => Math.abs(deviation) < limit);
  const KNOWN = [
    {
      name: 'stem anteversion alone below half a deviation',
      reaches: (placed: Placement) => deviations(placed)[2] < 0.5,
      truth: normalShare(0.5),
    },
    {
      name: 'a box of one deviation to each side',
      reaches: (placed: Placement) => within(placed, 1),
      truth: (normalShare(1) - normalShare(-1)) ** 3,
    },
    {
      name: 'a ball of two deviations',
      reaches: (placed: Placement) => Math.hypot(...deviations(placed)) < 2,
      truth: jstat.chisquare.cdf(4, 3),
    },
    {
      name: 'a slanted plane',
      reaches: (placed: Placement) => {
        const [x, y, z] = deviations(placed);
        return x + 2 * y - 2 * z < 3;
      },
      truth: normalShare(1),
    },
  ];

  test.each(KNOWN)('$name is covered by the interval in at least 90 of 100 seeds', ({ reaches, truth }) => {
    const found = Array.from({ length: 100 }, (_, seed) =>
      placementTolerance({ ...SIMULATION, seed, reaches }),
    );
    expect(found.filter(({ low, high }) => low <= truth && truth <= high).length).toBeGreaterThanOrEqual(90);
    const errors = found.map(({ share }) => share - truth);
    const rms = Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
    expect(rms).toBeLessThan(0.7 * Math.sqrt((truth * (1 - truth)) / 10_000));
  });

  test('a question and its opposite share the placements between them, with mirrored intervals', () => {
    const yes = placementTolerance({ ...SIMULATION, reaches: (placed) => within(placed, 1.5) });
    const no = placementTolerance({ ...SIMULATION, reaches: (placed) => !within(placed, 1.5) });
    expectWithin(yes.share + no.share, 1, 1e-15);
    expectWithin(yes.low + no.high, 1, 1e-15);
  });
});

describe('limit cases', () => {
  test('without scatter every placement is the plan, so the share is 0 or 1', () => {
    const still = { ...SIMULATION, scatter: placement(0, 0, 0) };
    const reachesFrom = (least: number): number =>
      placementTolerance({ ...still, reaches: ({ anteversion }) => anteversion >= least }).share;
    expect(reachesFrom(20)).toBe(1);
    expect(reachesFrom(20.000001)).toBe(0);
  });

  // Clopper and Pearson's exact interval for 10,000 of 10,000 and 0 of 10,000.
  test('where all sets agree the interval is the exact binomial one', () => {
    const all = placementTolerance({ ...SIMULATION, reaches: () => true });
    expect(all).toMatchObject({ share: 1, high: 1, points: 10_000, seed: 1 });
    expectWithin(all.low, jstat.beta.inv(0.025, 10_000, 1), 1e-9);
    const none = placementTolerance({ ...SIMULATION, reaches: () => false });
    expect(none).toMatchObject({ share: 0, low: 0 });
    expectWithin(none.high, jstat.beta.inv(0.975, 1, 10_000), 1e-9);
  });

  // Abramowitz and Stegun 26.7.3 (from memory): for odd degrees of freedom the share of Student's t within +-t is
  // 2/pi (a + sin a (cos a + 2/3 cos^3 a + 2*4/(3*5) cos^5 a + ...)), tan a = t / sqrt(15), up to cos^13.
  test('the quantile of t is that of 95 % and 15 degrees of freedom, printed as 2.131 in t tables', () => {
    const angle = Math.atan(2.131449546 / Math.sqrt(15));
    let term = Math.cos(angle);
    let sum = term;
    for (let power = 3; power <= 13; power += 2) {
      term *= ((power - 1) / power) * Math.cos(angle) ** 2;
      sum += term;
    }
    expectWithin((2 / Math.PI) * (angle + Math.sin(angle) * sum), 0.95, 1e-10);
    expectWithin(jstat.studentt.inv(0.975, 15), 2.131449546, 2e-8);
  });

  test('the interval is that of t over the shares of the 16 sets', () => {
    let asked = 0;
    const counts = Array.from({ length: 16 }, () => 0);
    const found = placementTolerance({
      ...SIMULATION,
      reaches: (placed) => {
        const reached = Math.hypot(...deviations(placed)) < 1.5;
        const set = Math.floor(asked / 625);
        if (reached) counts[set] = (counts[set] ?? 0) + 1;
        asked += 1;
        return reached;
      },
    });
    const mean = counts.reduce((sum, count) => sum + count / 625, 0) / 16;
    const variance = counts.reduce((sum, count) => sum + (count / 625 - mean) ** 2, 0) / 15;
    const half = jstat.studentt.inv(0.975, 15) * Math.sqrt(variance / 16);
    expect(asked).toBe(10_000);
    expectWithin(found.share, mean, 1e-12);
    expectWithin(found.high - found.share, half, 1e-9);
    expectWithin(found.share - found.low, half, 1e-9);
  });

  test('a placement outside the domain of the geometry is not asked about and counts as not reached', () => {
    const wide = { plan: placement(90, 0, 0), scatter: placement(60, 45, 45), seed: 5 };
    const found = placementTolerance({
      ...wide,
      reaches: ({ inclination, anteversion, stemAnteversion }) => {
        expect(inclination > 0 && inclination < 180).toBe(true);
        expect(Math.abs(anteversion) < 90 && Math.abs(stemAnteversion) < 90).toBe(true);
        return true;
      },
    });
    const truth = (normalShare(1.5) - normalShare(-1.5)) * (normalShare(2) - normalShare(-2)) ** 2;
    expect(found.low).toBeLessThan(truth);
    expect(found.high).toBeGreaterThan(truth);
  });
});

describe('the seed', () => {
  const placementsOf = (seed: number): readonly Placement[] => {
    const asked: Placement[] = [];
    placementTolerance({ ...SIMULATION, seed, reaches: (placed) => asked.push(placed) > 0 });
    return asked;
  };

  test('gives the same bytes again, and another seed another sample', () => {
    const bytes = JSON.stringify(placementsOf(1));
    expect(JSON.stringify(placementsOf(1))).toBe(bytes);
    expect(JSON.stringify(placementsOf(2))).not.toBe(bytes);
    const share = (seed: number): string =>
      JSON.stringify(
        placementTolerance({ ...SIMULATION, seed, reaches: (p) => Math.hypot(...deviations(p)) < 1 }),
      );
    expect(share(1)).toBe(share(1));
    expect(share(1)).not.toBe(share(2));
  });

  test('is part of the result', () => {
    expect(placementTolerance({ ...SIMULATION, seed: 0xffffffff, reaches: () => true }).seed).toBe(
      0xffffffff,
    );
  });
});

test('the example in the doc block is true', () => {
  const found = placementTolerance({ ...SIMULATION, reaches: ({ anteversion }) => anteversion > 20 });
  expect(found).toMatchObject({ share: 0.5003, points: 10_000, seed: 1 });
  expectWithin(found.low, 0.4964, 5e-5);
  expectWithin(found.high, 0.5042, 5e-5);
});

test.each([
  ['a plan without inclination', { plan: placement(0, 20, 15) }],
  ['a plan with anteversion 90', { plan: placement(40, 90, 15) }],
  ['a plan with stem anteversion -90', { plan: placement(40, 20, -90) }],
  ['a negative scatter', { scatter: placement(6, -1, 7) }],
  ['a fraction as seed', { seed: 0.5 }],
  ['a negative seed', { seed: -1 }],
] as const)('%s is refused', (_, changes) => {
  expect(() => placementTolerance({ ...SIMULATION, ...changes, reaches: () => true })).toThrow(RangeError);
});
