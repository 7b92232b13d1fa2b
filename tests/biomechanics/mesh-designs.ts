import { degrees, millimetres, type Degrees, type Millimetres } from '../../src/base/units.js';
import type { NeckLean } from '../../src/biomechanics/range/half-oscillation.js';
import type { Liner, RimElevation } from '../../src/biomechanics/range/liner.js';
import { MOTION_DIRECTIONS, type MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import type { Neck } from '../../src/biomechanics/range/neck.js';
import type { ReplacedHip } from '../../src/biomechanics/range/prosthetic-margin.js';

export const LINER_KINDS = [
  'neutral',
  'center off the opening plane',
  'chamfer',
  'lip on the sphere',
  'lip on the sphere with ramps',
  'straight wall',
  'straight wall with ramps',
  'turned face',
  'constrained',
  'dual mobility',
] as const;
export type LinerKind = (typeof LINER_KINDS)[number];

export const NECK_KINDS = ['round', 'flattened', 'taper', 'skirt'] as const;
export type NeckKind = (typeof NECK_KINDS)[number];

/** A random hip and the motion it is moved in. */
export interface Design {
  readonly linerKind: LinerKind;
  readonly neckKind: NeckKind;
  readonly hip: ReplacedHip;
  readonly direction: MotionDirection;
}

type Random = () => number;

/** A random number in [0, 1) that follows from the seed (mulberry32). */
export function randomFrom(seed: number): Random {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

function between(random: Random, low: number, high: number): number {
  return low + (high - low) * random();
}

function angle(random: Random, low: number, high: number): Degrees {
  return degrees(between(random, low, high));
}

function length(random: Random, low: number, high: number): Millimetres {
  return millimetres(between(random, low, high));
}

const LIP_SHAPES: Partial<Record<LinerKind, RimElevation['shape']>> = {
  'lip on the sphere': 'on-sphere',
  'lip on the sphere with ramps': 'on-sphere',
  'straight wall': 'straight-wall',
  'straight wall with ramps': 'straight-wall',
};

/** Half of the centers lie in the opening plane. */
function offCenter(random: Random): Millimetres {
  return random() < 0.5 ? millimetres(0) : length(random, -2, 2);
}

function randomElevation(random: Random, shape: RimElevation['shape'], hasRamps: boolean): RimElevation {
  return {
    shape,
    ramp: hasRamps ? angle(random, 10, 30) : degrees(0),
    arc: angle(random, 60, 180),
    azimuth: angle(random, 0, 360),
    angle: angle(random, 5, 25),
  };
}

function randomLiner(random: Random, kind: LinerKind, head: Millimetres): Liner {
  const flat: Liner = {
    bore: head,
    centerOffset: millimetres(0),
    wall: length(random, 3, 6),
    opening: degrees(180),
  };
  const shape = LIP_SHAPES[kind];
  if (shape) {
    const centerOffset = offCenter(random);
    return { ...flat, centerOffset, elevation: randomElevation(random, shape, kind.endsWith('ramps')) };
  }
  switch (kind) {
    case 'center off the opening plane':
      return { ...flat, centerOffset: length(random, -2, 2) };
    case 'chamfer':
      return {
        ...flat,
        centerOffset: offCenter(random),
        chamfer: { depth: length(random, 0.5, 3), angle: angle(random, 20, 70) },
      };
    case 'turned face':
      return {
        ...flat,
        faceTurn: { angle: angle(random, 1, 20), toward: angle(random, 0, 360) },
        ...(random() < 0.5 ? { elevation: randomElevation(random, 'on-sphere', true) } : {}),
      };
    case 'constrained':
      return { ...flat, opening: angle(random, 140, 175) };
    case 'dual mobility':
      return { ...flat, bore: length(random, 38, 48) };
    default:
      return flat;
  }
}

function randomNeck(random: Random, kind: NeckKind, head: Millimetres): Neck {
  const diameter = length(random, 9, 14);
  switch (kind) {
    case 'flattened':
      return { diameter, flats: length(random, 0.6 * diameter, 0.95 * diameter) };
    case 'taper':
      return {
        diameter,
        taper: { diameter: length(random, 8, 14), length: length(random, 0.4 * head, 0.8 * head) },
      };
    case 'skirt':
      return {
        diameter,
        skirt: {
          diameter: length(random, diameter + 1, diameter + 5),
          length: length(random, 0.5 * head, 0.9 * head),
        },
      };
    default:
      return { diameter };
  }
}

/** A random liner and neck of given kinds. */
export function randomParts(
  random: Random,
  linerKind: LinerKind,
  neckKind: NeckKind,
): { liner: Liner; neck: Neck } {
  const head = linerKind === 'dual mobility' ? millimetres(28) : length(random, 22, 48);
  return { liner: randomLiner(random, linerKind, head), neck: randomNeck(random, neckKind, head) };
}

function cycled<T>(list: readonly [T, ...T[]], index: number): T {
  return list[index % list.length] ?? list[0];
}

/** Kinds and motions in turn, so that every liner meets every neck and all motions come up; the rest by chance. */
export function randomDesigns(seed: number, count: number): readonly Design[] {
  const random = randomFrom(seed);
  return Array.from({ length: count }, (_, index) => {
    const linerKind = cycled(LINER_KINDS, index);
    const neckKind = cycled(NECK_KINDS, Math.floor(index / LINER_KINDS.length));
    const direction = cycled(MOTION_DIRECTIONS, index + Math.floor(index / 70));
    const cup = {
      definition: 'radiographic',
      inclination: angle(random, 30, 55),
      anteversion: angle(random, -5, 35),
    } as const;
    const stem = { anteversion: angle(random, -10, 35), neckShaftAngle: angle(random, 120, 145) };
    return {
      linerKind,
      neckKind,
      direction,
      hip: { cup, stem, ...randomParts(random, linerKind, neckKind) },
    };
  });
}

/** A random liner and neck, and the way the neck leans. */
export interface LeanDesign {
  readonly linerKind: LinerKind;
  readonly liner: Liner;
  readonly neck: Neck;
  readonly lean: NeckLean;
}

/** Leans toward any azimuth; where the rim has a raised part, toward that or up to 25 degrees beside it. */
export function randomLeans(seed: number, count: number): readonly LeanDesign[] {
  const random = randomFrom(seed);
  return Array.from({ length: count }, (_, index) => {
    const linerKind = cycled(LINER_KINDS, index);
    const neckKind = cycled(NECK_KINDS, Math.floor(index / LINER_KINDS.length));
    const parts = randomParts(random, linerKind, neckKind);
    const { elevation } = parts.liner;
    const reach = elevation ? elevation.arc / 2 + elevation.ramp + 25 : 180;
    const azimuth = angle(random, (elevation?.azimuth ?? 0) - reach, (elevation?.azimuth ?? 0) + reach);
    return { linerKind, ...parts, lean: { azimuth, roll: angle(random, -180, 180) } };
  });
}
