import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import { bonyMargin, bonyRange } from '../../../src/biomechanics/bone/bony-contact.js';
import {
  GENERIC_BONE,
  SPINE_TYPES,
  type SpineType,
} from '../../../src/biomechanics/bone/generic-bone-shape.js';
import { placeBone, type BoneShapes } from '../../../src/biomechanics/bone/generic-bone.js';
import {
  MOTION_DIRECTIONS,
  poseAlong,
  type MotionDirection,
} from '../../../src/biomechanics/motion/motion-direction.js';
import { femurVector, length, pelvisVector } from '../../../src/biomechanics/vector.js';
import { angleOf, combined, contact, prosthetic, reach, scene, UNCHANGED } from '../generic-hip.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

/*
 * What the generic scene says, beside published signs and bounds. The scene is a proposal: its numbers were chosen with
 * these in view, so the tests guard it and do not validate it; what does not hold is kept in view. Certainty is low.
 */
function record<Value extends z.ZodType>(
  id: string,
  value: Value,
): { readonly value: z.output<Value>; readonly label: string } {
  const { expected, label } = workedExample('bony-contact', id, {
    inputs: z.unknown(),
    expected: z.object({ value: z.unknown() }),
  });
  return { value: value.parse(expected.value), label };
}

/** Ours minus the cadaver series, 8 mm more offset, in degrees. */
const CADAVER_DISAGREEMENT = { flexion: -12.31, 'internal-rotation-at-90': -11.23 } as const;

const ANTERIOR = ['flexion', 'internal-rotation-at-90'] as const;

describe('the generic scene', () => {
  const hips = workedExample('hip-force', 'static-model-versus-invivo-stance', {
    inputs: z.object({ rows: z.array(z.object({ gtLateral_mm: z.number(), gtVertical_mm: z.number() })) }),
    expected: z.unknown(),
  });

  test(`has its trochanter where it lay on average in ten hips (${hips.label})`, () => {
    const { rows } = hips.inputs;
    const tip = GENERIC_BONE.I.femur.find(({ part }) => part === 'trochanter-tip');
    const mean = (of: readonly number[]): number => of.reduce((sum, one) => sum + one, 0) / of.length;
    expect(rows).toHaveLength(10);
    expectWithin(tip?.center[2] ?? NaN, mean(rows.map((row) => row.gtLateral_mm)), 0.05);
    expectWithin(tip?.center[1] ?? NaN, mean(rows.map((row) => row.gtVertical_mm)), 0.05);
  });

  // From memory: 45 to 50 mm.
  test('has a spine of type I about as far from the hip center as it is recalled to be (from memory)', () => {
    const spine = GENERIC_BONE.I.pelvis.find(({ part }) => part === 'anterior-inferior-iliac-spine');
    expectWithin(spine ? length(spine.center) : NaN, 47.5, 2.5);
  });

  test.each(SPINE_TYPES)('with a spine of type %s touches nowhere at rest', (spine) => {
    expect(bonyMargin(scene({}, spine), poseAlong('flexion', degrees(0)))?.margin).toBeGreaterThan(10);
  });
});

describe('offset', () => {
  const cadaver = record(
    'offset-head-size-cadaver-rom-2009',
    z.object({
      offsetPlus8Mm: z.object({ flexion: z.number(), internalRotation: z.number() }),
    }),
  );

  test.each(
    (['I', 'II'] as const).flatMap((spine) => ANTERIOR.map((direction) => [spine, direction] as const)),
  )(
    'spine type %s: from 0 to 4 and from 4 to 8 mm of offset adds 4 to 15 degrees of %s each, the step from 4 to 8 mm less',
    (spine, direction) => {
      const [start, plus4, plus8] = [0, 4, 8].map((femoralOffsetChange) =>
        contact(direction, { femoralOffsetChange }, spine),
      ) as [number, number, number];
      for (const step of [plus4 - start, plus8 - plus4]) {
        expect(step).toBeGreaterThanOrEqual(4);
        expect(step).toBeLessThanOrEqual(15);
      }
      expect(plus8 - plus4).toBeLessThan(plus4 - start);
    },
  );

  // Ours, no outside truth: the figures the doc blocks state, so that those cannot claim more than the scene gives.
  test('the bound of 4 to 15 degrees fails for losses, and for a gain with spine type III', () => {
    const start = SPINE_TYPES.map((spine) => contact('flexion', {}, spine));
    const changed = (femoralOffsetChange: number): readonly number[] =>
      SPINE_TYPES.map(
        (spine, index) => contact('flexion', { femoralOffsetChange }, spine) - (start[index] ?? NaN),
      );
    const [lossI = NaN, lossII = NaN, lossIII = NaN] = changed(-4);
    expectWithin(lossI, -16.0, 0.05);
    expectWithin(lossII, -16.6, 0.05);
    expectWithin(lossIII, -18.05, 0.05);
    expectWithin(changed(4)[2] ?? NaN, 18.0, 0.05);
  });

  test('from 4 mm more offset on, flexion is the same with all three spine types', () => {
    for (const femoralOffsetChange of [4, 8, 12]) {
      const ends = SPINE_TYPES.map((spine) => contact('flexion', { femoralOffsetChange }, spine));
      expect(new Set(ends).size).toBe(1);
    }
  });

  // Disagreement, kept in view: a series of 101 hips found little further gain from excess offset.
  test('nothing levels off: the step from 8 to 12 mm adds more again than that from 4 to 8', () => {
    for (const direction of ANTERIOR) {
      const [plus4, plus8, plus12] = [4, 8, 12].map((femoralOffsetChange) =>
        contact(direction, { femoralOffsetChange }),
      ) as [number, number, number];
      expect(plus12 - plus8).toBeGreaterThan(plus8 - plus4);
    }
  });

  // The cadaver series gained more than this model can: hips without muscle tone, read up to dislocation, mean of many
  // shapes. Our steps are held to 4 to 15 degrees and not tuned to it; the disagreement is kept in view here.
  test.each([
    ['flexion', 'flexion'],
    ['internal-rotation-at-90', 'internalRotation'],
  ] as const)(
    `%s: 8 mm more offset gains far less than in the cadaver series, by the figure stated (${cadaver.label})`,
    (direction, motion) => {
      const { offsetPlus8Mm } = cadaver.value;
      const ours = contact(direction, { femoralOffsetChange: 8 }) - contact(direction);
      const apart = ours - offsetPlus8Mm[motion];
      expectWithin(apart, CADAVER_DISAGREEMENT[direction], 0.05);
    },
  );
});

describe('the other ways of placing the components', () => {
  const shoji = record('offset-vs-height-rom-shoji', z.null());
  const version = record('stem-antetorsion-bony-contact', z.null());
  const highCenter = record('high-hip-centre-rom', z.looseObject({}));

  test.each(MOTION_DIRECTIONS)(
    '4 mm less offset brings contact sooner in %s, or leaves a motion without an end so',
    (direction) => {
      const start = contact(direction);
      const less = contact(direction, { femoralOffsetChange: -4 });
      if (start === Infinity) expect(less).toBe(Infinity);
      else expect(less).toBeLessThan(start);
    },
  );

  // Kept in view: the rule above ends there.
  test('8 mm less offset ends extension later than no change does', () => {
    expect(contact('extension', { femoralOffsetChange: -8 })).toBeGreaterThan(contact('extension'));
  });

  test(`a longer leg through the head lowers flexion and internal rotation and raises external rotation (${shoji.label})`, () => {
    const longer = { headHeightChange: 5 };
    for (const direction of ANTERIOR) expect(contact(direction, longer)).toBeLessThan(contact(direction));
    expect(contact('external-rotation', longer)).toBeGreaterThan(contact('external-rotation'));
  });

  // Kept in view: the generic scene stands near a maximum of internal rotation over height, so only the longer side has
  // the published sign there.
  test('a shorter leg gives flexion back, but no internal rotation', () => {
    const shorter = { headHeightChange: -5 };
    expect(contact('flexion', shorter)).toBeGreaterThan(contact('flexion'));
    expect(contact('internal-rotation-at-90', shorter)).toBeLessThan(contact('internal-rotation-at-90'));
  });

  test(`more stem version delays contact in front, and less brings it sooner (${version.label})`, () => {
    for (const direction of ANTERIOR) {
      expect(contact(direction, { stemAnteversion: 25 })).toBeGreaterThan(contact(direction));
      expect(contact(direction, { stemAnteversion: 5 })).toBeLessThan(contact(direction));
    }
  });

  test('more stem version brings contact behind sooner, and less delays it (common practice, no source)', () => {
    for (const direction of ['extension', 'external-rotation'] as const) {
      expect(contact(direction, { stemAnteversion: 25 })).toBeLessThan(contact(direction));
      expect(contact(direction, { stemAnteversion: 5 })).toBeGreaterThan(contact(direction));
    }
  });

  test(`a higher hip center lowers flexion and internal rotation (${highCenter.label})`, () => {
    for (const direction of ANTERIOR) {
      expect(contact(direction, { hipCenterCranial: 10 })).toBeLessThan(contact(direction));
    }
  });

  // Disagreement, kept in view: the series found more extension and external rotation with a higher center. Why it gained
  // extension is not known: in ours the posterior wall comes down with the cup and is met sooner. For rotation, about the
  // shaft a pair feels only its difference in height, and a longer leg and a higher center change that in opposite
  // ways, so one pair cannot gain external rotation from both, as the two papers together ask.
  test(`a higher hip center lowers extension and external rotation too, against the published sign (${highCenter.label})`, () => {
    for (const direction of ['extension', 'external-rotation'] as const) {
      expect(contact(direction, { hipCenterCranial: 10 })).toBeLessThan(contact(direction));
    }
  });

  test('a hip center set medially, without more femoral offset, brings contact sooner (common practice, no source)', () => {
    for (const direction of ANTERIOR) {
      expect(contact(direction, { hipCenterMedial: 5 })).toBeLessThan(contact(direction));
    }
  });

  // Two series disagree on external rotation: one gained everywhere, one lost it there with offset. The model gains a little.
  const highOffset = record('high-offset-rom-gain', z.object({ allLow: z.number(), allHigh: z.number() }));

  test(`more offset gains in every direction that has an end, in some far less than published (${highOffset.label})`, () => {
    const gains = MOTION_DIRECTIONS.filter((direction) => contact(direction) < Infinity).map(
      (direction) => contact(direction, { femoralOffsetChange: 4 }) - contact(direction),
    );
    expect(Math.min(...gains)).toBeGreaterThan(0);
    expect(Math.min(...gains)).toBeLessThan(highOffset.value.allLow);
    expect(Math.max(...gains)).toBeLessThan(highOffset.value.allHigh);
  });
});

describe('ranges', () => {
  const limits = record(
    'bony-impingement-limits-rom-2012',
    z.object({
      romExceedsDeg: z.object({
        flexion: z.number(),
        extension: z.number(),
        abductionAdduction: z.number(),
        externalRotation: z.number(),
      }),
    }),
  );
  const types = record('aiis-types-rom', z.record(z.string(), z.number()));

  test.each(SPINE_TYPES)(
    `spine type %s moves further than the published lower bounds (${limits.label})`,
    (spine) => {
      const { flexion, extension, abductionAdduction, externalRotation } = limits.value.romExceedsDeg;
      expect(contact('flexion', {}, spine)).toBeGreaterThan(flexion);
      expect(contact('extension', {}, spine)).toBeGreaterThan(extension);
      expect(contact('abduction', {}, spine)).toBeGreaterThan(abductionAdduction);
      expect(contact('adduction', {}, spine)).toBeGreaterThan(abductionAdduction);
      expect(contact('external-rotation', {}, spine)).toBeGreaterThan(externalRotation);
    },
  );

  // Common practice, no source: bone ends flexion at about 120 to 135 degrees.
  test('spine type I ends flexion between 120 and 135 degrees', () => {
    expectWithin(contact('flexion'), 127.5, 7.5);
  });

  test(`flexion and internal rotation fall from spine type I to II to III, as published (${types.label})`, () => {
    for (const [direction, motion] of [
      ['flexion', 'flexion'],
      ['internal-rotation-at-90', 'internalRotation'],
    ] as const) {
      const ours = SPINE_TYPES.map((spine) => contact(direction, {}, spine));
      const published = SPINE_TYPES.map((spine) => types.value[`${motion}${spine}`] ?? NaN);
      expect(ours).toEqual([...ours].sort((a, b) => b - a));
      expect(new Set(ours).size).toBe(3);
      // The published hips are native ones that impinge: each ends sooner than ours, the sizes are not to be compared.
      ours.forEach((end, index) => expect(end).toBeGreaterThan(published[index] ?? NaN));
    }
  });
});

describe('components and bone together', () => {
  const plateau = record('no-rom-benefit-above-36mm-2018', z.object({ romPlateauHeadMm: z.number() }));
  const review = record('head-diameter-review-2015', z.object({ plateauHeadMm: z.number() }));

  test.each(ANTERIOR)(
    `%s: a head of 32 mm moves further than one of 28, and beyond 36 bone allows no more (${plateau.label}; ${review.label})`,
    (direction) => {
      const at = plateau.value.romPlateauHeadMm;
      expect(combined(direction, 28).status).toBe('limited-by-components');
      expect(reach(direction, 32)).toBeGreaterThan(reach(direction, 28));
      for (const head of [at, 40, 44]) {
        expect(combined(direction, head).status).toBe('limited-by-bone');
        expect(reach(direction, head)).toBe(reach(direction, at));
      }
    },
  );

  test('cup inclination changes what the components allow in flexion and not what bone allows', () => {
    const bone = contact('flexion');
    expect(prosthetic('flexion', 36, 35)).not.toBeCloseTo(prosthetic('flexion', 36, 45) ?? NaN, 0);
    for (const inclination of [40, 45, 50]) {
      expect(combined('flexion', 36, inclination)).toMatchObject({ status: 'limited-by-bone', angle: bone });
    }
  });
});

describe('how much hangs on the numbers of the generic scene', () => {
  // Integers, since random doubles crowd around 0: thousandths of a millimetre, up to half a millimetre either way.
  const shift = fc.noBias(fc.integer({ min: -500, max: 500 })).map((thousandths) => thousandths / 1000);
  const shifts = fc.sample(fc.array(fc.tuple(shift, shift, shift, shift), { minLength: 10, maxLength: 10 }), {
    numRuns: 200,
    seed: 17,
  });

  /** The shapes of a type with every coordinate and radius moved a little. */
  function moved(by: (typeof shifts)[number], spine: SpineType): BoneShapes {
    const stated = GENERIC_BONE[spine];
    const at = (index: number): readonly [number, number, number, number] => by[index] ?? [0, 0, 0, 0];
    return {
      ...stated,
      pelvis: stated.pelvis.map((sphere, index) => {
        const [x, y, z, r] = at(index);
        const center = pelvisVector(sphere.center[0] + x, sphere.center[1] + y, sphere.center[2] + z);
        return { ...sphere, center, radius: millimetres(sphere.radius + r) };
      }),
      femur: stated.femur.map((sphere, index) => {
        const [x, y, z, r] = at(index + stated.pelvis.length);
        const center = femurVector(sphere.center[0] + x, sphere.center[1] + y, sphere.center[2] + z);
        return { ...sphere, center, radius: millimetres(sphere.radius + r) };
      }),
    };
  }

  /** For each moved scene, what the first and the second 4 mm of offset add. */
  const steps = (spine: SpineType, direction: MotionDirection): readonly (readonly [number, number])[] =>
    shifts.map((by) => {
      const [start, plus4, plus8] = [0, 4, 8].map((change) =>
        angleOf(
          bonyRange(
            placeBone(moved(by, spine), { ...UNCHANGED, femoralOffsetChange: millimetres(change) }),
            direction,
          ),
        ),
      ) as [number, number, number];
      return [plus4 - start, plus8 - plus4];
    });

  test.each(
    (['I', 'II'] as const).flatMap((spine) => ANTERIOR.map((direction) => [spine, direction] as const)),
  )(
    'spine type %s: both steps of offset gain %s however the numbers are moved within half a millimetre',
    (spine, direction) => {
      for (const [first, second] of steps(spine, direction)) {
        expect(first).toBeGreaterThan(0);
        expect(second).toBeGreaterThan(0);
      }
    },
  );

  // Kept in view: these are properties of this scene, not of hips like it. Shares as its doc block states them; the
  // tolerance is twice the sampling error of 200 scenes, and a little.
  test('that the step from 4 to 8 mm is the smaller does not survive such moves in every scene, nor the size of the steps', () => {
    const share = (kept: readonly boolean[]): number => kept.filter(Boolean).length / kept.length;
    const isSmaller = ([first, second]: readonly [number, number]): boolean => second < first;
    const isInside = (both: readonly [number, number]): boolean =>
      both.every((step) => step >= 4 && step <= 15);
    expectWithin(share(steps('I', 'flexion').map(isSmaller)), 0.6, 0.08);
    const all = (['I', 'II'] as const).flatMap((spine) =>
      ANTERIOR.map((direction) => steps(spine, direction)),
    );
    const whole = shifts.map((_, index) =>
      all.every((series) => {
        const both = series[index];
        return both !== undefined && isSmaller(both) && isInside(both);
      }),
    );
    expectWithin(share(whole), 0.2, 0.08);
  });
});
