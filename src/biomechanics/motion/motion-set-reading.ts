import { degrees, type Degrees } from '../../base/units.js';
import {
  POSE_ANGLES,
  type DirectionOfRisk,
  type Motion,
  type MotionSet,
  type MotionSetKind,
  type PoseAngle,
} from './motion-set.js';
import type { NamedPose } from './pose.js';
import { postureDemand, type KnownTilts, type Posture } from './posture-demand.js';
import { poseFromStatedOrder, turnsOf, type StatedPose } from './rotation-order.js';

/** A declared reading of an angle that a source leaves open: it is taken as 0, and said to be. */
export interface ZeroAssumption {
  readonly set: string;
  readonly motion: string;
  readonly angle: PoseAngle;
  readonly why: string;
}

/** What else is needed to read motion sets. */
export interface MotionReading {
  readonly zeros?: readonly ZeroAssumption[];
  /** The pelvis of the person asked about; without it no motion stated against the ground is run. */
  readonly tilts?: KnownTilts;
}

/** A pose to run, with the set it came from. */
export interface MotionPose extends NamedPose {
  readonly set: string;
  readonly directionOfRisk: DirectionOfRisk;
}

export interface MotionNotRun {
  readonly set: string;
  readonly motion: string;
  readonly missing:
    | { readonly kind: 'angles'; readonly angles: readonly PoseAngle[] }
    | { readonly kind: 'pelvic-tilt'; readonly anyOf: readonly Posture[] };
}

export type MotionAssumption =
  | ({ readonly kind: 'zero' } & ZeroAssumption)
  /** No order of rotations stated, and more than one turn made: the project's own order is taken. */
  | { readonly kind: 'order'; readonly set: string; readonly motion: string }
  /** The seated pelvis is taken to tilt as it does standing. */
  | { readonly kind: 'stiff-spine'; readonly set: string; readonly motion: string };

/** What motion sets of one kind ask of one hip. */
export interface MotionsRead {
  readonly kind: MotionSetKind;
  readonly poses: readonly MotionPose[];
  readonly notRun: readonly MotionNotRun[];
  readonly assumptions: readonly MotionAssumption[];
}

/**
 * Motion sets as poses to run, with what could not be run and what was assumed.
 *
 * Frame: out, pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: at least one set, all of one kind, set names and the motion names of a set each once, zeros only for angles
 * that a motion leaves open; RangeError otherwise.
 * Method: a motion with an angle left open is not run unless that angle is declared 0. Then the order of rotations is
 * converted (`poseFromStatedOrder`), and a motion against the ground set against the pelvis (`postureDemand`).
 * Source: ours; each set carries its own.
 * Checked: every way not to run, every assumption, and the rulebook's own sets in tests/biomechanics/motion/motion-set.test.ts.
 * Limits: a set says nothing about motions that are not in it; requirement sets are wishes of papers, not daily life.
 *
 * @example
 * readMotionSets([{ kind: 'activity', name: 'squat', source: 'a-source', motions: [
 *   { name: 'squatting', flexion: 80.7, abduction: null, externalRotation: null,
 *     directionOfRisk: 'posterior', relativeTo: 'pelvis' },
 * ] }])
 * //=> poses [], notRun [squatting: angles abduction, externalRotation], assumptions []
 */
export function readMotionSets(sets: readonly MotionSet[], reading: MotionReading = {}): MotionsRead {
  const kind = onlyKind(sets);
  assertOnce(
    sets.map(({ name }) => name),
    'motion set',
  );
  const zeros = reading.zeros ?? [];
  for (const zero of zeros) assertLeftOpen(zero, sets);
  const read = sets.flatMap(({ name, motions }) => {
    assertOnce(
      motions.map((motion) => motion.name),
      `motion of ${name}`,
    );
    return motions.map((motion) => readMotion(name, motion, zeros, reading.tilts));
  });
  return {
    kind,
    poses: read.flatMap(({ pose }) => pose ?? []),
    notRun: read.flatMap(({ notRun }) => notRun ?? []),
    assumptions: read.flatMap(({ assumptions }) => assumptions ?? []),
  };
}

function onlyKind(sets: readonly MotionSet[]): MotionSetKind {
  const kinds = [...new Set(sets.map(({ kind }) => kind))];
  const [kind] = kinds;
  if (kind === undefined || kinds.length > 1) {
    throw new RangeError(`motion sets must be of one kind, got ${kinds.join(' and ') || 'none'}`);
  }
  return kind;
}

function assertOnce(names: readonly string[], what: string): void {
  const twice = names.find((name, index) => names.indexOf(name) !== index);
  if (twice !== undefined)
    throw new RangeError(`each ${what} must have a name of its own, got ${twice} twice`);
}

function assertLeftOpen({ set, motion, angle }: ZeroAssumption, sets: readonly MotionSet[]): void {
  const found = sets.find(({ name }) => name === set)?.motions.find(({ name }) => name === motion);
  if (found?.[angle] === null) return;
  const stated = found === undefined ? 'no such motion' : `${found[angle] ?? ''}`;
  throw new RangeError(`${set}, ${motion}: ${angle} may be taken as 0 only where left open, got ${stated}`);
}

interface MotionRead {
  readonly pose?: MotionPose;
  readonly notRun?: MotionNotRun;
  readonly assumptions?: readonly MotionAssumption[];
}

function readMotion(
  set: string,
  motion: Motion,
  declared: readonly ZeroAssumption[],
  tilts: KnownTilts = { measured: {}, stiffSpine: false },
): MotionRead {
  const zeros = declared.filter((zero) => zero.set === set && zero.motion === motion.name);
  const stated = statedAngles(motion, zeros);
  if (stated.kind === 'open') return notRun(set, motion, { kind: 'angles', angles: stated.angles });

  const { pose, orderAssumed } = poseFromStatedOrder(stated.pose);
  const demand =
    motion.relativeTo === 'ground'
      ? postureDemand({ ...pose, posture: motion.posture }, tilts)
      : ({ kind: 'pose', pose, tiltFrom: 'none' } as const);
  if (demand.kind === 'unknown') return notRun(set, motion, { kind: 'pelvic-tilt', anyOf: demand.missing });

  const about = { set, motion: motion.name };
  return {
    pose: { ...demand.pose, name: motion.name, set, directionOfRisk: motion.directionOfRisk },
    assumptions: [
      ...zeros.map((zero) => ({ kind: 'zero' as const, ...zero })),
      ...(orderAssumed && turnsOf(pose) > 1 ? [{ kind: 'order' as const, ...about }] : []),
      ...(demand.tiltFrom === 'stiff-spine' ? [{ kind: 'stiff-spine' as const, ...about }] : []),
    ],
  };
}

function notRun(set: string, { name }: Motion, missing: MotionNotRun['missing']): MotionRead {
  return { notRun: { set, motion: name, missing } };
}

type StatedAngles =
  | { readonly kind: 'pose'; readonly pose: StatedPose }
  | { readonly kind: 'open'; readonly angles: readonly PoseAngle[] };

function statedAngles(motion: Motion, zeros: readonly ZeroAssumption[]): StatedAngles {
  const open = POSE_ANGLES.filter((angle) => motion[angle] === null);
  const undeclared = open.filter((angle) => !zeros.some((zero) => zero.angle === angle));
  if (undeclared.length > 0) return { kind: 'open', angles: undeclared };
  // Whatever is still null here has been declared 0.
  const angle = (name: PoseAngle): Degrees => degrees(motion[name] ?? 0);
  return {
    kind: 'pose',
    pose: {
      flexion: angle('flexion'),
      abduction: angle('abduction'),
      externalRotation: angle('externalRotation'),
      ...(motion.order !== undefined && { order: motion.order }),
      ...(motion.axes !== undefined && { axes: motion.axes }),
    },
  };
}
