import { readFileSync } from 'node:fs';
import { z } from 'zod';
import type { Motion, MotionSet } from '../../src/biomechanics/motion/motion-set.js';
import type { ZeroAssumption } from '../../src/biomechanics/motion/motion-set-reading.js';

/** A motion set as a paper asks for it, with how far that paper was read and what had to be guessed. */
export interface PublishedMotionSet {
  readonly set: MotionSet;
  /** Records of the evidence dossier it rests on. */
  readonly records: readonly string[];
  readonly readAt: 'abstract' | 'secondary source';
  /** Angles the source leaves open that the tests take as 0. */
  readonly zeros: readonly ZeroAssumption[];
  /** What is not in the part read. */
  readonly guessed: readonly string[];
}

const text = z.string().nullish();
const motionRecord = z.looseObject({
  id: z.string(),
  flexion: z.number().nullable(),
  abduction: z.number().nullable(),
  external_rotation: z.number().nullable(),
  direction_of_risk: z.enum(['anterior', 'posterior', 'superior', 'other']),
  convention: z.string(),
  verified: z.string(),
  notes: text,
  citation: z.object({ authors: text, journal: text, year: z.number().nullish(), doi: text }),
});

export type MotionRecord = z.output<typeof motionRecord>;

function evidence(): readonly unknown[] {
  const url = new URL('../published/evidence/motions.json', import.meta.url);
  return z.array(z.unknown()).parse(JSON.parse(readFileSync(url, 'utf8')));
}

/** Any record of motions.json, in the shape a test asks for; it throws when the record or a field is gone. */
export function motionEvidence<Shape extends z.ZodType>(id: string, shape: Shape): z.output<Shape> {
  const found = evidence().find((record) => z.looseObject({ id: z.string() }).parse(record).id === id);
  if (found === undefined) throw new Error(`no record ${id} in motions.json`);
  return shape.parse(found);
}

/** A motion of motions.json. */
export function publishedMotion(id: string): MotionRecord {
  return motionEvidence(id, motionRecord);
}

type Turns = Pick<Motion, 'flexion' | 'abduction' | 'externalRotation'>;

function asked(name: string, directionOfRisk: Motion['directionOfRisk'], turns: Partial<Turns>): Motion {
  return {
    name,
    flexion: 0,
    abduction: 0,
    externalRotation: 0,
    ...turns,
    directionOfRisk,
    relativeTo: 'pelvis',
  };
}

interface FourTargets {
  readonly flexion: number;
  readonly internalRotationAt90: number;
  readonly extension: number;
  readonly externalRotation: number;
}

function fourMotions(targets: FourTargets): readonly Motion[] {
  return [
    asked('flexion', 'posterior', { flexion: targets.flexion }),
    asked('internal rotation at 90', 'posterior', {
      flexion: 90,
      externalRotation: -targets.internalRotationAt90,
    }),
    asked('extension', 'anterior', { flexion: -targets.extension }),
    asked('external rotation', 'anterior', { externalRotation: targets.externalRotation }),
  ];
}

const NORMAL = { flexion: 110, internalRotationAt90: 30, extension: 30, externalRotation: 40 };
const DEMANDING = { flexion: 120, internalRotationAt90: 45, extension: 30, externalRotation: 40 };

const WIDMER = 'Widmer 2004';

/**
 * Widmer and Zurfluh, J Orthop Res 2004, as a 2022 paper quotes it (10.1186/s13018-022-03112-6): flexion 130, internal
 * rotation 80, extension 40, external rotation 40, abduction 50, adduction 50.
 */
export const WIDMER_2004: PublishedMotionSet = {
  set: {
    kind: 'requirement',
    name: WIDMER,
    source: 'widmer-2004',
    motions: [
      asked('flexion', 'posterior', { flexion: 130 }),
      asked('internal rotation', 'posterior', { flexion: null, externalRotation: -80 }),
      asked('extension', 'anterior', { flexion: -40 }),
      asked('external rotation', 'anterior', { flexion: null, externalRotation: 40 }),
      asked('abduction', 'superior', { abduction: 50 }),
      asked('adduction', 'other', { abduction: -50 }),
    ],
  },
  records: [
    'widmer-flexion',
    'widmer-internal-rotation',
    'widmer-extension',
    'widmer-external-rotation',
    'widmer-abduction',
    'widmer-adduction',
  ],
  readAt: 'secondary source',
  zeros: [
    {
      set: WIDMER,
      motion: 'internal rotation',
      angle: 'flexion',
      why: 'read as with the leg straight: at 90 degrees of flexion no prosthesis of its time would reach it',
    },
    {
      set: WIDMER,
      motion: 'external rotation',
      angle: 'flexion',
      why: 'read as with the leg straight',
    },
  ],
  guessed: ['flexion in which the two rotations are asked for', 'order of rotations'],
};

/**
 * The model of 2006 (10.15106/J00764.2007038004), abstract: 110 flexion, 30 internal rotation at 90, 30 extension, 40
 * external rotation. A conflict: a 2022 paper quotes 120, 45, 30, 40 for what seems the same line; that is
 * `OSCILLATION_2006_AS_QUOTED`. The abstract's own are used.
 */
export const OSCILLATION_2006: PublishedMotionSet = {
  set: {
    kind: 'requirement',
    name: 'oscillation model 2006',
    source: 'oscillation-2006',
    motions: fourMotions(NORMAL),
  },
  records: ['optimum-anteversion-84-3'],
  readAt: 'abstract',
  zeros: [],
  guessed: ['external rotation is asked for with the leg straight', 'order of rotations'],
};

/** The model of 2001 (10.15106/J00764.2002083307), abstract, in the harder of its two flexions, 110 or 120. */
export const OSCILLATION_2001_FLEXION_120: PublishedMotionSet = {
  set: {
    kind: 'requirement',
    name: 'oscillation model 2001, flexion 120',
    source: 'oscillation-2001',
    motions: fourMotions({ ...NORMAL, flexion: 120 }),
  },
  records: ['required-oscillation-27'],
  readAt: 'abstract',
  zeros: [],
  guessed: ['external rotation is asked for with the leg straight', 'order of rotations'],
};

/** Yoshimine, J Biomech 2006, as the 2022 paper quotes it; in conflict with the abstract of `OSCILLATION_2006`. */
export const OSCILLATION_2006_AS_QUOTED: PublishedMotionSet = {
  set: {
    kind: 'requirement',
    name: 'oscillation model 2006, as quoted in 2022',
    source: 'anteversion-rules-2022',
    motions: fourMotions(DEMANDING),
  },
  records: [
    'yoshimine-flexion',
    'yoshimine-internal-rotation',
    'yoshimine-extension',
    'yoshimine-external-rotation',
  ],
  readAt: 'secondary source',
  zeros: [],
  guessed: ['external rotation is asked for with the leg straight', 'order of rotations'],
};

/**
 * The parametric model of 2012 (Chin J Biomed Eng 31(1):103), abstract: "normal" and "severe" targets, neither of them
 * defined there. Guessed as the two sets of four that other papers of the time use; nothing but their names was read.
 */
export const OPERATIVE_2012: Readonly<Record<'normal' | 'severe', PublishedMotionSet>> = {
  normal: guessedTargets('normal', NORMAL),
  severe: guessedTargets('severe', DEMANDING),
};

function guessedTargets(name: string, targets: FourTargets): PublishedMotionSet {
  return {
    set: {
      kind: 'requirement',
      name: `parametric model 2012, ${name}`,
      source: 'operative-anteversion-2012',
      motions: fourMotions(targets),
    },
    records: ['operative-anteversion-2012'],
    readAt: 'abstract',
    zeros: [],
    guessed: ['every target: the abstract names the set and no angle', 'operative inclination 40'],
  };
}

export const PUBLISHED_MOTION_SETS: readonly PublishedMotionSet[] = [
  WIDMER_2004,
  OSCILLATION_2006,
  OSCILLATION_2001_FLEXION_120,
  OSCILLATION_2006_AS_QUOTED,
  OPERATIVE_2012.normal,
  OPERATIVE_2012.severe,
];
