import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import {
  impingementMargin,
  worstImpingementMargin,
} from '../../../src/biomechanics/range/impingement-margin.js';
import { readMotionSets } from '../../../src/biomechanics/motion/motion-set-reading.js';
import {
  optimalCupAnteversion,
  type AnteversionQuestion,
} from '../../../src/biomechanics/range/optimal-cup-anteversion.js';
import { neckAxis, poseInPelvis, type NamedPose } from '../../../src/biomechanics/motion/pose.js';
import { PUBLISHED_MOTION_SETS } from '../published-motion-sets.js';
import { expectWithin } from '../tolerance.js';

// Two angles between unit vectors, in degrees.
const ROUNDING = 1e-9;

const SETS = PUBLISHED_MOTION_SETS.map(({ set, zeros }) => readMotionSets([set], { zeros }).poses);

function named(name: string, flexion: number, abduction: number, externalRotation: number): NamedPose {
  return {
    name,
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function question(
  definition: CupDefinition,
  inclination: number,
  stem: number,
  poses: readonly NamedPose[],
  neckShaftAngle = 135,
): AnteversionQuestion<CupDefinition> {
  return {
    definition,
    inclination: degrees(inclination),
    stem: { anteversion: degrees(stem), neckShaftAngle: degrees(neckShaftAngle) },
    poses,
  };
}

/** Greatest axis angle over the poses, for one anteversion; by the margin, not by the code under test. */
function greatestAngle(asked: AnteversionQuestion<CupDefinition>, anteversion: number): number {
  const { definition, inclination, stem, poses } = asked;
  const geometry = {
    cupAxis: cupAxis({ definition, inclination, anteversion: degrees(anteversion) }),
    neckAxis: neckAxis(stem),
    oscillationAngle: degrees(120),
  };
  return Math.max(...poses.map((pose) => impingementMargin(geometry, pose).axisAngle));
}

const definition = fc.constantFrom<CupDefinition>('radiographic', 'operative', 'anatomic');
const inclination = fc.double({ min: 25, max: 65, noNaN: true });
const stem = fc.double({ min: -10, max: 40, noNaN: true });
const neckShaft = fc.double({ min: 120, max: 145, noNaN: true });

describe('the best anteversion', () => {
  test('is beaten by no anteversion of a grid in steps of 0.1 degrees, in any definition, for every published set', () => {
    // Independent: exhaustive search. The grid also finds it: no grid point near the optimum is worse by more than a step.
    fc.assert(
      fc.property(
        definition,
        inclination,
        stem,
        neckShaft,
        fc.constantFrom(...SETS),
        (d, i, s, ccd, poses) => {
          const asked = question(d, i, s, poses, ccd);
          const { cup, axisAngle } = optimalCupAnteversion(asked);
          const grid = Array.from({ length: 1799 }, (_, step) => greatestAngle(asked, -89.9 + step / 10));
          const best = Math.min(...grid);
          expect(axisAngle).toBeLessThanOrEqual(best + ROUNDING);
          // An axis moves no faster than its anteversion: half a step of 0.1 changes no angle by more than 0.05.
          expect(best - axisAngle).toBeLessThanOrEqual(0.05 + ROUNDING);
          expectWithin(greatestAngle(asked, cup.anteversion), axisAngle, ROUNDING);
        },
      ),
      { numRuns: 40, seed: 61 },
    );
  });

  test('is found also for sets of random poses, where the greatest angle may have several valleys', () => {
    const angle = fc.double({ min: -130, max: 130, noNaN: true });
    const poses = fc
      .array(fc.tuple(angle, angle, angle), { minLength: 1, maxLength: 6 })
      .map((set) => set.map(([f, a, e], index) => named(`pose ${index}`, f, a, e)));
    let refused = 0;
    fc.assert(
      fc.property(definition, inclination, stem, poses, (d, i, s, set) => {
        const asked = question(d, i, s, set);
        const grid = Array.from({ length: 899 }, (_, step) => greatestAngle(asked, -89.8 + step / 5));
        const best = Math.min(...grid);
        let found: number;
        try {
          found = optimalCupAnteversion(asked).axisAngle;
        } catch (error) {
          // Refused only where a limit of the range is best, so the grid is best at one of its ends.
          expect(error).toBeInstanceOf(RangeError);
          expect(Math.min(grid[0] ?? Infinity, grid.at(-1) ?? Infinity)).toBeLessThan(best + 0.1);
          refused += 1;
          return;
        }
        expect(found).toBeLessThanOrEqual(best + ROUNDING);
        // The nearest grid point is at most a step of 0.2 away, at the ends of the range.
        expect(best - found).toBeLessThanOrEqual(0.2 + ROUNDING);
      }),
      { numRuns: 150, seed: 62 },
    );
    expect(refused).toBeLessThan(75);
  });

  test('needs the least oscillation angle: with that every pose is just reached, with less one is not', () => {
    for (const poses of SETS) {
      const asked = question('radiographic', 42, 15, poses);
      const { cup, oscillationAngle, decidedBy } = optimalCupAnteversion(asked);
      const hip = { cupAxis: cupAxis(cup), neckAxis: neckAxis(asked.stem) };
      const worst = worstImpingementMargin({ ...hip, oscillationAngle }, poses);
      expectWithin(worst.margin, 0, ROUNDING);
      expect(decidedBy).toContain(worst.motion);
      const smaller = worstImpingementMargin(
        { ...hip, oscillationAngle: degrees(oscillationAngle - 2) },
        poses,
      );
      expectWithin(smaller.margin, -1, ROUNDING);
    }
  });

  test('lies between two motions that pull opposite ways, and names them', () => {
    const found = optimalCupAnteversion(
      question('radiographic', 40, 15, [
        named('flexion', 110, 0, 0),
        named('slight flexion', 40, 0, 0),
        named('external rotation', 0, 0, 40),
      ]),
    );
    expect(found.decidedBy).toEqual(['flexion', 'external rotation']);
    expectWithin(found.cup.anteversion, 17.7, 0.005);
    expectWithin(found.axisAngle, 53.96, 0.005);
  });

  test('for one pose is the anteversion of the cup that opens along the posed neck', () => {
    // Closed form: held at that cup's own inclination, it is that cup, and the angle is 0.
    const pose = named('slight flexion', 20, -10, 5);
    const neck = neckAxis({ anteversion: degrees(10), neckShaftAngle: degrees(135) });
    for (const d of ['radiographic', 'operative', 'anatomic'] as const) {
      const along = cupOrientationFromAxis(poseInPelvis(pose, neck), d);
      const { cup, axisAngle, decidedBy } = optimalCupAnteversion(question(d, along.inclination, 10, [pose]));
      expectWithin(cup.anteversion, along.anteversion, ROUNDING);
      expectWithin(axisAngle, 0, ROUNDING);
      expect(decidedBy).toEqual(['slight flexion']);
    }
  });

  test('under a held radiographic inclination is one cup, whichever anteversion it is read in', () => {
    // Closed form: tan RA = tan AA sin RI, so with RI held both rise together and have one optimum.
    for (const poses of SETS) {
      const { cup, axisAngle } = optimalCupAnteversion(question('radiographic', 45, 20, poses));
      const { anteversion } = cupOrientationFromAxis(cupAxis(cup), 'anatomic');
      const rad = Math.PI / 180;
      const back = Math.atan(Math.tan(anteversion * rad) * Math.sin(45 * rad)) / rad;
      expectWithin(back, cup.anteversion, ROUNDING);
      for (const aside of [-1, 1]) {
        expect(greatestAngle(question('radiographic', 45, 20, poses), back + aside)).toBeGreaterThan(
          axisAngle,
        );
      }
    }
  });

  test('of no poses, of an impossible inclination, and at the limit of the range is refused', () => {
    const flexed = [named('flexion', 110, 0, 0)];
    expect(() => optimalCupAnteversion(question('radiographic', 40, 15, []))).toThrow(RangeError);
    expect(() => optimalCupAnteversion(question('radiographic', 0, 15, flexed))).toThrow(RangeError);
    // The neck points backward and up, so the best operative anteversion lies behind -90.
    expect(() =>
      optimalCupAnteversion(question('operative', 40, 0, [named('far back', -150, 0, 0)])),
    ).toThrow(RangeError);
  });
});
