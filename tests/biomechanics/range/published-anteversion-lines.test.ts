import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { worstImpingementMargin } from '../../../src/biomechanics/range/impingement-margin.js';
import {
  cupAxisFromStatedAngles,
  type StatedCupAngles,
} from '../../../src/biomechanics/orientation/mixed-cup-angles.js';
import { readMotionSets } from '../../../src/biomechanics/motion/motion-set-reading.js';
import { neckAxis } from '../../../src/biomechanics/motion/pose.js';
import {
  optimumFor,
  publishedAnteversionLines,
  STEM_VERSIONS,
  type AngleReading,
} from '../published-anteversion-lines.js';
import {
  OPERATIVE_2012,
  OSCILLATION_2001_FLEXION_120,
  OSCILLATION_2006,
  WIDMER_2004,
  type PublishedMotionSet,
} from '../published-motion-sets.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

/**
 * Three papers print a line for the best cup anteversion over stem version. Ours is put beside each under the targets and
 * definitions that were read or, where the abstract gives none, guessed. Nothing is fitted: deviations stand as measured.
 */

// The records print an independent search to 0.1 degrees, whose own step is not known.
const SEARCH = 0.1;

const widmer = workedExample('combined-anteversion', 'combined-anteversion-37-3', {
  inputs: z.object({ inclinationDeg: z.literal(42.5), stemAnteversionDeg: z.array(z.number()).length(7) }),
  expected: z.object({ cupAnteversionDeg: z.array(z.number()).length(7) }),
  notes: z.object({
    computed: z
      .array(
        z.object({
          stemAnteversion: z.number(),
          publishedRA: z.number(),
          derivedRA: z.number(),
          requiredOscOnPublishedLine: z.number(),
        }),
      )
      .length(7),
    derivedFit: z.literal('RA = 35.5 - 0.76*FA'),
    verdict: z.string().regex(/needs 151-153 deg/),
  }),
});

const model2006 = workedExample('optimum-anteversion', 'optimum-anteversion-84-3', {
  inputs: z.object({
    rows: z.array(z.object({ abduction: z.number(), neckAnteversion: z.number() })).length(9),
  }),
  expected: z.object({ betaAnatDeg: z.array(z.number()).length(9) }),
  notes: z.object({
    computed: z
      .array(
        z.object({
          abduction: z.number(),
          neckAnteversion: z.number(),
          publishedBetaAnat: z.number(),
          derivedFlexion110: z.number(),
          derivedFlexion120: z.number(),
          requiredOscOnPublishedLine: z.number(),
        }),
      )
      .length(9),
  }),
});

const model2012 = workedExample('optimum-anteversion', 'operative-anteversion-2012', {
  inputs: z.object({ femoralAnteversionDeg: z.array(z.number()).length(4) }),
  expected: z.object({ normal: z.array(z.number()).length(4), severe: z.array(z.number()).length(4) }),
  notes: z.object({
    computed: z.object({
      flexion110_ir90_30_ext30_er40_OI40: z.literal('OA = 40.1 - 0.92*FA'),
      flexion120_ir90_45_ext30_er40_OI40: z.literal('OA = 47.3 - 0.91*FA'),
    }),
  }),
});

const FILM: Pick<AngleReading, 'held' | 'stated'> = { held: 'radiographic', stated: 'anatomic' };

describe('our optimum and the independent search of the record', () => {
  test.each(widmer.notes.computed)(
    `agree on cup $derivedRA for stem $stemAnteversion (${widmer.label})`,
    ({ stemAnteversion, derivedRA }) => {
      const reading = { held: 'radiographic', inclination: 42.5, stated: 'radiographic' } as const;
      expectWithin(optimumFor(WIDMER_2004, reading, stemAnteversion).anteversion, derivedRA, SEARCH);
    },
  );

  test.each(model2006.notes.computed)(
    `agree on cup $derivedFlexion110 and $derivedFlexion120 for film abduction $abduction and neck $neckAnteversion (${model2006.label})`,
    ({ abduction, neckAnteversion, derivedFlexion110, derivedFlexion120 }) => {
      const reading = { ...FILM, inclination: abduction };
      expectWithin(
        optimumFor(OSCILLATION_2006, reading, neckAnteversion).anteversion,
        derivedFlexion110,
        SEARCH,
      );
      expectWithin(
        optimumFor(OSCILLATION_2001_FLEXION_120, reading, neckAnteversion).anteversion,
        derivedFlexion120,
        SEARCH,
      );
    },
  );

  test(`agree that internal rotation 80 at 90 of flexion would need 151 to 153 degrees of oscillation (${widmer.label})`, () => {
    const motions = WIDMER_2004.set.motions.map((motion) =>
      motion.name === 'internal rotation' ? { ...motion, flexion: 90 } : motion,
    );
    const zeros = WIDMER_2004.zeros.filter(({ motion }) => motion !== 'internal rotation');
    const at90 = { ...WIDMER_2004, set: { ...WIDMER_2004.set, motions }, zeros };
    const reading = { held: 'radiographic', inclination: 42.5, stated: 'radiographic' } as const;
    const needed = STEM_VERSIONS.map((stem) => optimumFor(at90, reading, stem).oscillationAngle);
    expectWithin(Math.min(...needed), 151.9, 0.05);
    expectWithin(Math.max(...needed), 153.2, 0.05);
  });
});

describe('the oscillation angle a cup on the published line needs', () => {
  function needed(published: PublishedMotionSet, stated: StatedCupAngles, stem: number): number {
    const outcome = cupAxisFromStatedAngles(stated);
    if (outcome.kind === 'none') throw new Error(`no such cup: ${outcome.why}`);
    const hip = {
      cupAxis: outcome.axis,
      neckAxis: neckAxis({ anteversion: degrees(stem), neckShaftAngle: degrees(135) }),
      oscillationAngle: degrees(120),
    };
    const { poses } = readMotionSets([published.set], { zeros: published.zeros });
    return 2 * worstImpingementMargin(hip, poses).axisAngle;
  }

  test.each(widmer.notes.computed)(
    `is $requiredOscOnPublishedLine for stem $stemAnteversion, as the record computes (${widmer.label})`,
    ({ stemAnteversion, publishedRA, requiredOscOnPublishedLine }) => {
      const stated = {
        inclination: { definition: 'radiographic', value: degrees(42.5) },
        anteversion: { definition: 'radiographic', value: degrees(publishedRA) },
      } as const;
      expectWithin(needed(WIDMER_2004, stated, stemAnteversion), requiredOscOnPublishedLine, 0.05 + 1e-9);
    },
  );

  test.each(model2006.notes.computed)(
    `is $requiredOscOnPublishedLine for film abduction $abduction and neck $neckAnteversion, as the record computes (${model2006.label})`,
    ({ abduction, neckAnteversion, publishedBetaAnat, requiredOscOnPublishedLine }) => {
      const stated = {
        inclination: { definition: 'radiographic', value: degrees(abduction) },
        anteversion: { definition: 'anatomic', value: degrees(publishedBetaAnat) },
      } as const;
      // Which flexion the record took is not said; it fits the harder one.
      const ours = needed(OSCILLATION_2001_FLEXION_120, stated, neckAnteversion);
      expectWithin(ours, requiredOscOnPublishedLine, 0.05 + 1e-9);
    },
  );
});

/** Slope and intercept of ours, and the largest deviation from the published line, as measured. */
const MEASURED = [
  { paper: 'Widmer 2004', slope: -0.754, intercept: 35.51, deviation: -3.43 },
  {
    paper: 'oscillation model 2006, film abduction 45, flexion 110',
    slope: -1.02,
    intercept: 40.65,
    deviation: -6.2,
  },
  {
    paper: 'oscillation model 2006, film abduction 45, flexion 120',
    slope: -0.862,
    intercept: 39.7,
    deviation: -2.02,
  },
  {
    paper: 'oscillation model 2006, film abduction 45, targets as quoted in 2022',
    slope: -0.968,
    intercept: 47.66,
    deviation: 7.77,
  },
  {
    paper: 'oscillation model 2006, anatomic inclination 45, flexion 110',
    slope: -1.392,
    intercept: 51.74,
    deviation: 12.36,
  },
  {
    paper: 'oscillation model 2006, anatomic inclination 45, flexion 120',
    slope: -1.066,
    intercept: 47.46,
    deviation: 8.53,
  },
  {
    paper: 'parametric model 2012, normal targets',
    slope: -0.922,
    intercept: 40.08,
    deviation: -6.46,
  },
  {
    paper: 'parametric model 2012, severe targets',
    slope: -0.914,
    intercept: 47.27,
    deviation: -4.41,
  },
] as const;

const LINES = publishedAnteversionLines();

describe('published lines of cup anteversion over stem version', () => {
  test('are all compared', () => {
    expect(LINES.map(({ paper }) => paper)).toEqual(MEASURED.map(({ paper }) => paper));
    for (const { note } of LINES) expect(note).not.toBe('');
  });

  test.each(MEASURED)(
    '$paper: ours is $intercept with slope $slope, furthest from the published line by $deviation',
    ({ paper, slope, intercept, deviation }) => {
      const line = LINES.find((one) => one.paper === paper);
      // Half of the last figure shown.
      expectWithin(line?.ours.slope ?? Number.NaN, slope, 0.0005 + 1e-9);
      expectWithin(line?.ours.intercept ?? Number.NaN, intercept, 0.005 + 1e-9);
      expectWithin(line?.largestDeviation ?? Number.NaN, deviation, 0.005 + 1e-9);
    },
  );

  test('are those of the records', () => {
    const published = (paper: string, stem: number): number => {
      const line = LINES.find((one) => one.paper === paper)?.published;
      return line === undefined ? Number.NaN : line.intercept + line.slope * stem;
    };
    widmer.inputs.stemAnteversionDeg.forEach((stem, index) => {
      expectWithin(published('Widmer 2004', stem), widmer.expected.cupAnteversionDeg[index] ?? NaN, 0.051);
    });
    model2006.inputs.rows.forEach(({ abduction, neckAnteversion }, index) => {
      if (abduction !== 45) return;
      const expected = model2006.expected.betaAnatDeg[index] ?? Number.NaN;
      for (const { paper } of MEASURED.filter((one) => one.paper.startsWith('oscillation'))) {
        expectWithin(published(paper, neckAnteversion), expected, 0.051);
      }
    });
    model2012.inputs.femoralAnteversionDeg.forEach((stem, index) => {
      for (const set of ['normal', 'severe'] as const) {
        const expected = model2012.expected[set][index] ?? Number.NaN;
        expectWithin(published(`parametric model 2012, ${set} targets`, stem), expected, 0.0051);
      }
    });
  });

  test('are steeper in ours, in every reading: a degree of stem is worth more cup than the papers say', () => {
    // A disagreement kept in view; what it is due to was not read. See the notes of the table.
    for (const { paper, published, ours } of LINES) {
      expect(ours.slope, paper).toBeLessThan(published.slope);
    }
  });

  test('of 2004 and 2012 are, in ours, those the records fitted to their independent search', () => {
    // 35.5 - 0.76 is fitted over inclinations 40 to 45, ours at 42.5; 40.1 - 0.92 and 47.3 - 0.91 at inclination 40.
    const fits = [
      ['Widmer 2004', 35.5, -0.76, 0.01],
      ['parametric model 2012, normal targets', 40.1, -0.92, 0.005],
      ['parametric model 2012, severe targets', 47.3, -0.91, 0.005],
    ] as const;
    for (const [paper, intercept, slope, tolerance] of fits) {
      const ours = LINES.find((one) => one.paper === paper)?.ours;
      expectWithin(ours?.intercept ?? Number.NaN, intercept, 0.051);
      expectWithin(ours?.slope ?? Number.NaN, slope, tolerance);
    }
  });

  test('of 2012 rest on guessed targets and say so', () => {
    for (const set of [OPERATIVE_2012.normal, OPERATIVE_2012.severe]) {
      expect(set.guessed.join()).toMatch(/every target/);
    }
  });
});
