import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { correlation } from '../least-squares.js';
import { mean, standardDeviation } from '../mean-and-spread.js';
import {
  contactAzimuths,
  MOTION_NAMES,
  motionLimit,
  neededOscillations,
  positionsOf,
  type Hip,
  type Motion,
} from '../motion-limits.js';
import { designsOf, oscillation } from '../oscillation.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

/*
 * The records use another frame (X lateral, Y anterior, Z cranial), another order of axes in code, and a separate
 * implementation.
 */
const HIP = z.object({
  inclination: z.number(),
  anteversion: z.number(),
  neckShaftAngle: z.number(),
  stemAnteversion: z.number(),
  oscillation: z.number(),
});
const LIMITS = z.record(
  z.enum([
    'flexion',
    'extension',
    'abduction',
    'adduction',
    'internalRotation',
    'externalRotation',
    'internalRotationAt90',
  ]),
  z.number(),
);
const LIST = z.array(z.number());

describe('motion until neck and rim meet', () => {
  const table = workedExample('range-of-motion', 'rom-3d-table', {
    inputs: z.object({ rows: z.array(HIP).length(14) }),
    expected: z.object({ rows: z.array(LIMITS).length(14) }),
  });

  // The table is printed to one decimal.
  test.each(table.inputs.rows.map((hip, index) => ({ ...hip, index })))(
    `cup $inclination/$anteversion, neck-shaft $neckShaftAngle, stem $stemAnteversion, oscillation $oscillation reaches the derived limits (${table.label})`,
    ({ index, ...hip }) => {
      for (const motion of MOTION_NAMES) {
        expectWithin(
          motionLimit(hip, motion),
          table.expected.rows[index]?.[motion] ?? Number.NaN,
          0.05 + 1e-9,
        );
      }
    },
  );

  const bounds = workedExample('range-of-motion', 'rom-lower-bounds-ct-2012', {
    inputs: z.object({
      cup: z.object({ inclination: z.number(), anteversion: z.number() }),
      assumed: z.object({ neckShaftAngle: z.number(), stemAnteversion: z.number(), oscillation: LIST }),
    }),
    expected: z.object({
      flexionAbove: z.number(),
      extensionAbove: z.number(),
      abductionAdductionAbove: z.number(),
      externalRotationAbove: z.number(),
    }),
  });

  // Stem, head and neck were not read and are assumed; a weak test, and the study includes bone.
  test(`the published lower bounds hold at oscillation 130 and 135 but rotation misses its own at 120 (${bounds.label})`, () => {
    const { cup, assumed } = bounds.inputs;
    const { flexionAbove, extensionAbove, abductionAdductionAbove, externalRotationAbove } = bounds.expected;
    expect(assumed.oscillation).toEqual([120, 130, 135]);
    for (const angle of assumed.oscillation) {
      const hip = { ...cup, ...assumed, oscillation: angle };
      expect(motionLimit(hip, 'flexion')).toBeGreaterThan(flexionAbove);
      expect(motionLimit(hip, 'extension')).toBeGreaterThan(extensionAbove);
      expect(motionLimit(hip, 'abduction')).toBeGreaterThan(abductionAdductionAbove);
      expect(motionLimit(hip, 'adduction')).toBeGreaterThan(abductionAdductionAbove);
      expect(motionLimit(hip, 'externalRotation') > externalRotationAbove).toBe(angle > 120);
    }
  });
});

describe('published signs', () => {
  const signs = workedExample('range-of-motion', 'rom-sign-tests', {
    inputs: z.object({ base: HIP }),
    expected: z.object({
      oscillationUp: z.literal('all motions increase'),
      neckShaftAngleUp: z.literal(
        'flexion decreases, extension decreases, external rotation increases, internal rotation at 90 little changed',
      ),
      inclinationUp: z.literal('flexion and internal rotation at 90 increase, external rotation decreases'),
      cupAnteversionUp: z.literal(
        'flexion and internal rotation at 90 increase, external rotation and extension decrease',
      ),
      stemAnteversionUp: z.literal(
        'flexion and internal rotation at 90 increase, external rotation and extension decrease',
      ),
    }),
  });
  const { base } = signs.inputs;

  function change(altered: Partial<Hip>, motion: Motion): number {
    return motionLimit({ ...base, ...altered }, motion) - motionLimit(base, motion);
  }

  function expectSigns(altered: Partial<Hip>, more: readonly Motion[], less: readonly Motion[]): void {
    for (const motion of more) expect(change(altered, motion), motion).toBeGreaterThan(0.5);
    for (const motion of less) expect(change(altered, motion), motion).toBeLessThan(-0.5);
  }

  test(`more oscillation brings more of every motion (${signs.label})`, () => {
    expectSigns({ oscillation: base.oscillation + 10 }, MOTION_NAMES, []);
  });

  // "Little changed" is read as less than half of the smallest of the other three changes.
  test(`a larger neck-shaft angle brings external rotation, costs flexion and extension, hardly changes internal rotation at 90 (${signs.label})`, () => {
    const altered = { neckShaftAngle: base.neckShaftAngle + 10 };
    expectSigns(altered, ['externalRotation'], ['flexion', 'extension']);
    const others = (['externalRotation', 'flexion', 'extension'] as const).map((m) =>
      Math.abs(change(altered, m)),
    );
    expect(Math.abs(change(altered, 'internalRotationAt90'))).toBeLessThan(Math.min(...others) / 2);
  });

  test(`more inclination brings flexion and internal rotation at 90 and costs external rotation (${signs.label})`, () => {
    expectSigns(
      { inclination: base.inclination + 5 },
      ['flexion', 'internalRotationAt90'],
      ['externalRotation'],
    );
  });

  test.each(['anteversion', 'stemAnteversion'] as const)(
    `more %s brings flexion and internal rotation at 90 and costs external rotation and extension (${signs.label})`,
    (part) => {
      expectSigns(
        { [part]: base[part] + 5 },
        ['flexion', 'internalRotationAt90'],
        ['externalRotation', 'extension'],
      );
    },
  );
});

describe('published correlations and gains', () => {
  const linear = workedExample('range-of-motion', 'rom-flexion-linear-in-osc', {
    inputs: z.object({
      headDiameterMm: LIST,
      neckDiameterMm: LIST,
      centreOutwardMm: LIST,
      cup: z.object({ inclination: z.number(), anteversion: z.number() }),
      stemAnteversion: z.number(),
      neckShaftAngle: z.number(),
    }),
    expected: z.object({ r2: z.number() }),
  });

  // Printed to four decimals, over 36 combinations whose grid is a guess; the record accepts 0.001.
  test(`flexion is almost exactly linear in oscillation angle (${linear.label})`, () => {
    const { cup, stemAnteversion, neckShaftAngle } = linear.inputs;
    const stem = { stemAnteversion, neckShaftAngle };
    const angles = designsOf(linear.inputs).map((design) => design.oscillation);
    expect(angles).toHaveLength(36);
    const flexion = angles.map((angle) => motionLimit({ ...cup, ...stem, oscillation: angle }, 'flexion'));
    expectWithin(correlation(angles, flexion) ** 2, linear.expected.r2, 0.001);
  });

  const area = workedExample('range-of-motion', 'rom-neck-area', {
    inputs: z.object({
      areaMm2: z.tuple([z.number(), z.number()]),
      headDiameterMm: LIST,
      cup: z.object({ inclination: z.number(), anteversion: z.number() }),
      stemAnteversion: z.number(),
      neckShaftAngle: z.number(),
    }),
    expected: z.object({ gainDegEachMotion: z.tuple([z.number(), z.number()]) }),
    notes: z.object({
      computed: z.object({ gain28: z.literal('5.4 to 8.0'), gain32: z.literal('4.6 to 7.2') }),
    }),
  });

  // The paper prints 5 to 10 degrees. With a 28 mm head every motion of the model falls inside; with 32 mm some fall
  // up to half a degree short, as the record's own computation does.
  test.each([
    [28, 5.4, 8.0],
    [32, 4.6, 7.2],
  ])(
    `a thinner neck brings every motion of a %s mm head %s to %s degrees (${area.label})`,
    (head, least, most) => {
      const { areaMm2, cup, stemAnteversion, neckShaftAngle } = area.inputs;
      const limit = (mm2: number, motion: Motion): number => {
        const angle = oscillation(head, 2 * Math.sqrt(mm2 / Math.PI));
        return motionLimit({ ...cup, stemAnteversion, neckShaftAngle, oscillation: angle }, motion);
      };
      const gains = MOTION_NAMES.filter((motion) => motion !== 'internalRotation').map(
        (motion) => limit(areaMm2[1], motion) - limit(areaMm2[0], motion),
      );
      expectWithin(Math.min(...gains), least, 0.05 + 1e-9);
      expectWithin(Math.max(...gains), most, 0.05 + 1e-9);
      expect(area.inputs.headDiameterMm).toContain(head);
      const [printedLeast, printedMost] = area.expected.gainDegEachMotion;
      expect(Math.min(...gains)).toBeGreaterThan(printedLeast - 0.5);
      expect(Math.max(...gains)).toBeLessThan(printedMost);
    },
  );
});

const POSITIONS = z.object({
  abductionDeg: LIST.length(3),
  anteriorOpeningDeg: LIST.length(3),
  neckAnteversionDeg: LIST.length(3),
  neckShaftAngleDeg: z.number(),
});

describe('27 orientations', () => {
  const required = workedExample('range-of-motion', 'required-oscillation-27', {
    inputs: POSITIONS.extend({
      targets: z.object({
        flexion: z.number(),
        internalRotationAt90: z.number(),
        extension: z.number(),
        externalRotation: z.number(),
      }),
    }),
    expected: z.object({ minimumDeg: z.number(), preferredDeg: z.number() }),
    notes: z.object({
      computed: z.object({ minDeg: z.number(), medianDeg: z.number(), maxDeg: z.number() }),
    }),
  });

  // The paper's 27 positions were not read, so only the order of magnitude can be compared with its 120 to 130.
  test(`the oscillation angle they need has the recorded spread, its median near the published 120 to 130 (${required.label})`, () => {
    const { targets } = required.inputs;
    const needed = neededOscillations(positionsOf(required.inputs, 120), targets);
    const { computed } = required.notes;
    expect(needed).toHaveLength(27);
    expectWithin(needed[0] ?? Number.NaN, computed.minDeg, 0.05);
    expectWithin(needed[13] ?? Number.NaN, computed.medianDeg, 0.05);
    expectWithin(needed[26] ?? Number.NaN, computed.maxDeg, 0.05);
    expect(needed[13]).toBeGreaterThan(required.expected.minimumDeg);
    expect(needed[13]).toBeLessThan(required.expected.preferredDeg);
  });

  const contact = workedExample('range-of-motion', 'rim-contact-location', {
    inputs: POSITIONS.extend({ oscillationDeg: z.number() }),
    expected: z.object({
      flexion: z.literal('anterior 135 +/- 11'),
      internalRotationAt90: z.literal('anterior 118 +/- 1'),
      extension: z.literal('posterior 85 +/- 9'),
      externalRotation: z.literal('posterior 58 +/- 5'),
    }),
    notes: z.object({
      computed: z.object({
        originLowestRimPoint: z.object({
          flexion: z.literal('anterior 158.6 +/- 14.8'),
          internalRotationAt90: z.literal('anterior 157.1 +/- 12.0'),
          extension: z.literal('posterior 83.0 +/- 14.3'),
          externalRotation: z.literal('posterior 53.9 +/- 0.8'),
        }),
      }),
    }),
  });

  /**
   * Mean and standard deviation of the unsigned angle from the lowest rim point to the contact point. In one of the 27
   * flexions the contact lies 1.4 degrees behind the highest rim point; it counts as anterior, as in the record.
   */
  function contactFromLowest(motion: Motion, side: 'anterior' | 'posterior'): { mean: number; sd: number } {
    const azimuths = contactAzimuths(positionsOf(contact.inputs, contact.inputs.oscillationDeg), motion);
    for (const azimuth of azimuths) {
      expect(azimuth < 180 || azimuth > 350, `${motion} meets the rim at ${azimuth}`).toBe(
        side === 'anterior',
      );
    }
    const angles = azimuths.map((azimuth) => Math.abs(180 - azimuth));
    return { mean: mean(angles), sd: standardDeviation(angles) };
  }

  // A disagreement kept visible. Where the published angle starts is not stated in the abstract; counted from the lowest
  // rim point, extension and rotation agree within the printed spread and the two contacts in flexion do not.
  test.each([
    { motion: 'extension', side: 'posterior', computed: [83.0, 14.3], published: [85, 9], agrees: true },
    {
      motion: 'externalRotation',
      side: 'posterior',
      computed: [53.9, 0.8],
      published: [58, 5],
      agrees: true,
    },
    { motion: 'flexion', side: 'anterior', computed: [158.6, 14.8], published: [135, 11], agrees: false },
    {
      motion: 'internalRotationAt90',
      side: 'anterior',
      computed: [157.1, 12.0],
      published: [118, 1],
      agrees: false,
    },
  ] as const)(
    `the rim point met in $motion matches an independent computation; agreement with the paper: $agrees (${contact.label})`,
    ({ motion, side, computed, published, agrees }) => {
      const { mean, sd } = contactFromLowest(motion, side);
      // Printed to one decimal.
      expectWithin(mean, computed[0], 0.05 + 1e-9);
      expectWithin(sd, computed[1], 0.05 + 1e-9);
      expect(Math.abs(mean - published[0]) <= published[1]).toBe(agrees);
    },
  );
});
