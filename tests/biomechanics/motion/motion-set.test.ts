import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import type { Motion, MotionSet } from '../../../src/biomechanics/motion/motion-set.js';
import { readMotionSets, type ZeroAssumption } from '../../../src/biomechanics/motion/motion-set-reading.js';
import type { Posture } from '../../../src/biomechanics/motion/posture-demand.js';
import { evidenceParameters } from '../../rulebook/evidence.js';
import { PUBLISHED_MOTION_SETS, publishedMotion, WIDMER_2004 } from '../published-motion-sets.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

const FLEXION: Motion = {
  name: 'flexion',
  flexion: 110,
  abduction: 0,
  externalRotation: 0,
  directionOfRisk: 'posterior',
  relativeTo: 'pelvis',
};
const SQUAT: Motion = { ...FLEXION, name: 'squat', flexion: 80.7, abduction: null, externalRotation: null };
const SEAT: Motion = {
  ...FLEXION,
  name: 'seat',
  flexion: 90,
  relativeTo: 'ground',
  posture: 'relaxed-seated',
};

function asked(...motions: readonly Motion[]): MotionSet {
  return { kind: 'requirement', name: 'asked', source: 'a-source', motions };
}

function zero(motion: string, angle: ZeroAssumption['angle']): ZeroAssumption {
  return { set: 'asked', motion, angle, why: 'for this test' };
}

describe('a motion set', () => {
  test('becomes poses that keep name, set and direction of risk', () => {
    expect(readMotionSets([asked(FLEXION)])).toEqual({
      kind: 'requirement',
      poses: [
        {
          name: 'flexion',
          set: 'asked',
          directionOfRisk: 'posterior',
          flexion: 110,
          abduction: 0,
          externalRotation: 0,
        },
      ],
      notRun: [],
      assumptions: [],
    });
  });

  test('of one kind is never read together with one of the other', () => {
    const measured: MotionSet = { ...asked(FLEXION), kind: 'activity', name: 'measured' };
    expect(() => readMotionSets([asked(FLEXION), measured])).toThrow(RangeError);
    expect(readMotionSets([measured]).kind).toBe('activity');
    expect(readMotionSets([measured, { ...measured, name: 'again' }]).poses).toHaveLength(2);
  });

  test('must be at least one, and named once, with motions named once', () => {
    expect(() => readMotionSets([])).toThrow(RangeError);
    expect(() => readMotionSets([asked(FLEXION), asked(SQUAT)])).toThrow(RangeError);
    expect(() => readMotionSets([asked(FLEXION, FLEXION)])).toThrow(RangeError);
  });
});

describe('a motion with an angle left open', () => {
  test('is not run, and says which angles are missing', () => {
    expect(readMotionSets([asked(FLEXION, SQUAT)])).toMatchObject({
      poses: [{ name: 'flexion' }],
      notRun: [
        {
          set: 'asked',
          motion: 'squat',
          missing: { kind: 'angles', angles: ['abduction', 'externalRotation'] },
        },
      ],
      assumptions: [],
    });
  });

  test('is still not run while only some of its angles are declared 0', () => {
    const read = readMotionSets([asked(SQUAT)], { zeros: [zero('squat', 'abduction')] });
    expect(read.poses).toEqual([]);
    expect(read.notRun[0]?.missing).toEqual({ kind: 'angles', angles: ['externalRotation'] });
    expect(read.assumptions).toEqual([]);
  });

  test('is run at 0 where that is declared, and the assumption is listed', () => {
    const zeros = [zero('squat', 'abduction'), zero('squat', 'externalRotation')];
    const read = readMotionSets([asked(SQUAT)], { zeros });
    expect(read.poses).toMatchObject([{ flexion: 80.7, abduction: 0, externalRotation: 0 }]);
    expect(read.notRun).toEqual([]);
    expect(read.assumptions).toEqual(zeros.map((one) => ({ kind: 'zero', ...one })));
  });

  test.each([
    ['an angle the source states', zero('flexion', 'flexion')],
    ['a motion that is not there', zero('kneeling', 'abduction')],
    ['another set', { ...zero('squat', 'abduction'), set: 'other' }],
  ])('cannot be declared 0 for %s', (_what, wrong) => {
    expect(() => readMotionSets([asked(FLEXION, SQUAT)], { zeros: [wrong] })).toThrow(RangeError);
  });
});

describe('the order of rotations', () => {
  const turned: Motion = { ...FLEXION, name: 'turned', flexion: 90, abduction: -20, externalRotation: -30 };

  test('is assumed to be ours where none is stated, which is listed where it can matter', () => {
    expect(readMotionSets([asked(FLEXION, turned)]).assumptions).toEqual([
      { kind: 'order', set: 'asked', motion: 'turned' },
    ]);
  });

  test('is converted where another is stated, and then nothing is assumed', () => {
    // Closed form: adduction about the pelvic axis at 90 of flexion is rotation about the shaft.
    const read = readMotionSets([asked({ ...turned, order: 'abduction-flexion-rotation' })]);
    expect(read.assumptions).toEqual([]);
    expectWithin(read.poses[0]?.abduction ?? Number.NaN, 0, 1e-9);
    expectWithin(read.poses[0]?.externalRotation ?? Number.NaN, -10, 1e-9);
  });
});

describe('a motion stated against the ground', () => {
  test('is not run without the tilt of the pelvis in that posture, and names the tilt', () => {
    expect(readMotionSets([asked(SEAT)]).notRun).toEqual([
      { set: 'asked', motion: 'seat', missing: { kind: 'pelvic-tilt', anyOf: ['relaxed-seated'] } },
    ]);
  });

  test('is run at the flexion the pelvis leaves to the hip', () => {
    const tilts = { measured: { 'relaxed-seated': degrees(-20) }, stiffSpine: false };
    const read = readMotionSets([asked(SEAT, FLEXION)], { tilts });
    expect(read.poses.map(({ flexion }) => flexion)).toEqual([70, 110]);
    expect(read.assumptions).toEqual([]);
  });

  test('is run with the standing tilt of a stiff spine, which is listed', () => {
    const tilts = { measured: { standing: degrees(5) }, stiffSpine: true };
    const read = readMotionSets([asked(SEAT)], { tilts });
    expect(read.poses.map(({ flexion }) => flexion)).toEqual([95]);
    expect(read.assumptions).toEqual([{ kind: 'stiff-spine', set: 'asked', motion: 'seat' }]);
  });
});

describe('published requirement sets', () => {
  test.each(PUBLISHED_MOTION_SETS)(
    '$set.name can be run whole once its guesses are declared, and says what is guessed',
    (published) => {
      const read = readMotionSets([published.set], { zeros: published.zeros });
      expect(read.kind).toBe('requirement');
      expect(read.notRun).toEqual([]);
      expect(read.poses).toHaveLength(published.set.motions.length);
      expect(published.guessed.length).toBeGreaterThan(0);
    },
  );

  test('without the declared guesses the two rotations of the 2004 set are not run', () => {
    const read = readMotionSets([WIDMER_2004.set]);
    expect(read.notRun.map(({ motion }) => motion)).toEqual(['internal rotation', 'external rotation']);
    expect(read.poses).toHaveLength(4);
  });

  // Truth: published, motions.json as copied from the evidence dossier. A null of ours is a 0 the record marks as read.
  test.each(PUBLISHED_MOTION_SETS.filter(({ records }) => records.length > 1))(
    '$set.name is that of its records, read as far as they were',
    ({ set, records, readAt, zeros }) => {
      expect(records).toHaveLength(set.motions.length);
      for (const [index, id] of records.entries()) {
        const record = publishedMotion(id);
        const motion = set.motions[index];
        expect(record.verified, id).toBe(readAt);
        expect(
          [motion?.flexion ?? 0, motion?.abduction, motion?.externalRotation, motion?.directionOfRisk],
          id,
        ).toEqual([record.flexion, record.abduction, record.external_rotation, record.direction_of_risk]);
        const assumed = zeros.some((one) => one.motion === motion?.name);
        expect(motion?.flexion === null, id).toBe(assumed);
        if (assumed) expect(record.convention).toMatch(/assumed/);
      }
    },
  );

  const required = workedExample('range-of-motion', 'required-oscillation-27', {
    inputs: z.object({
      targets: z.object({
        flexion: z.literal(120),
        internalRotationAt90: z.literal(30),
        extension: z.literal(30),
        externalRotation: z.literal(40),
      }),
    }),
    expected: z.unknown(),
  });
  test(`the 2001 set has the targets of its record (${required.label})`, () => {
    const set = PUBLISHED_MOTION_SETS.find(({ records }) => records.includes('required-oscillation-27'))?.set;
    expect(set?.motions.map(({ flexion, externalRotation }) => [flexion, externalRotation])).toEqual([
      [required.inputs.targets.flexion, 0],
      [90, -required.inputs.targets.internalRotationAt90],
      [-required.inputs.targets.extension, 0],
      [0, required.inputs.targets.externalRotation],
    ]);
  });
});

describe("the rulebook's motion sets", () => {
  const angles = { flexion: z.number(), abduction: z.number(), externalRotation: z.number() };
  const file = z.object({
    parameters: z.array(
      z.object({
        id: z.string(),
        value: z.array(z.object({ name: z.string(), ...angles })),
        unit: z.literal('deg'),
        use: z.literal('motion-set'),
        readAt: z.string(),
        records: z.array(z.string()),
        citations: z.tuple([z.string()], z.string()),
        why: z.string(),
      }),
    ),
  });
  const url = new URL('../../../rules/computations/motion-sets.json', import.meta.url);
  const { parameters } = file.parse(JSON.parse(readFileSync(url, 'utf8')));
  const fourPose = parameters.find(({ id }) => id === 'motion-set-four-pose-v1');

  /** The posture of the sets that are meant against the ground: the entries say so in words only. */
  const AGAINST_GROUND: Readonly<Record<string, Posture | undefined>> = {
    'motion-set-four-pose-v1': undefined,
    'motion-set-standing-v1': 'standing',
    'motion-set-seated-v1': 'relaxed-seated',
  };

  function asMotionSet({ id, value, citations }: (typeof parameters)[number]): MotionSet {
    const posture = AGAINST_GROUND[id];
    const relation = posture ? { relativeTo: 'ground' as const, posture } : { relativeTo: 'pelvis' as const };
    const motions = value.map((pose): Motion => {
      const directionOfRisk = pose.flexion > 0 ? 'posterior' : 'anterior';
      return { ...pose, ...relation, directionOfRisk };
    });
    return { kind: 'requirement', name: id, source: citations[0], motions };
  }

  test('are the three this test knows; another needs a line here', () => {
    expect(parameters.map(({ id }) => id)).toEqual(Object.keys(AGAINST_GROUND));
  });

  test('can be read as motion sets, against the ground where their reason says so', () => {
    for (const parameter of parameters) {
      const onGround = /against the ground/.test(parameter.why);
      expect(AGAINST_GROUND[parameter.id] !== undefined, parameter.id).toBe(onGround);
      const tilts = {
        measured: { standing: degrees(0), 'relaxed-seated': degrees(0) },
        stiffSpine: false,
      };
      const read = readMotionSets([asMotionSet(parameter)], { tilts });
      expect(read.notRun, parameter.id).toEqual([]);
      expect(read.poses, parameter.id).toMatchObject(parameter.value);
      expect(readMotionSets([asMotionSet(parameter)]).poses, parameter.id).toHaveLength(
        onGround ? 0 : parameter.value.length,
      );
    }
  });

  test('have poses the evidence dossier has, and none of their own', () => {
    // Truth: published, parameters.json of the evidence dossier: the four-pose set. The two others are drawn from it.
    const poses = z
      .object({ poses: z.array(z.object(angles)).length(4) })
      .parse(evidenceParameters.get('motion-set-four-pose-v1')?.value).poses;
    expect(fourPose?.value).toMatchObject(poses);
    for (const { id, value, readAt } of parameters) {
      for (const { flexion, abduction, externalRotation } of value) {
        expect(poses, id).toContainEqual({ flexion, abduction, externalRotation });
      }
      expect(readAt, id).toBe(id === 'motion-set-four-pose-v1' ? 'abstract' : 'derived here');
    }
  });

  test('ask for what the abstract of 2006 asks for', () => {
    const published = PUBLISHED_MOTION_SETS.find(({ set }) => set.source === 'oscillation-2006');
    const turns = (motions: readonly Pick<Motion, 'flexion' | 'externalRotation'>[]): readonly string[] =>
      motions.map(({ flexion, externalRotation }) => `${flexion ?? ''}/${externalRotation ?? ''}`).sort();
    expect(turns(fourPose?.value ?? [])).toEqual(turns(published?.set.motions ?? []));
  });
});
