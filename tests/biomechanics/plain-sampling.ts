import { Matrix4 } from 'three';
import type { Placement, PlacementScatter } from '../../src/biomechanics/placement/placement-tolerance.js';
import type { Pose } from '../../src/biomechanics/motion/pose.js';

/**
 * Plain sampling of placements, with nothing of the library in it: another generator, another way to normal numbers,
 * and rotations by three. The second reading of placement tolerance.
 */
const RAD = Math.PI / 180;

/** xoshiro128** (D. Blackman, S. Vigna; public domain), its state filled by the finalizer of splitmix32. */
function uniforms(seed: number): () => number {
  let counter = seed | 0;
  const word = (): number => {
    counter = (counter + 0x9e3779b9) | 0;
    let mixed = Math.imul(counter ^ (counter >>> 16), 0x21f0aaad);
    mixed = Math.imul(mixed ^ (mixed >>> 15), 0x735a2d97);
    return mixed ^ (mixed >>> 15);
  };
  let [a, b, c, d] = [word(), word(), word(), word()];
  return () => {
    const scaled = Math.imul(b, 5);
    const result = Math.imul((scaled << 7) | (scaled >>> 25), 9) >>> 0;
    const shifted = b << 9;
    c ^= a;
    d ^= b;
    b ^= c;
    a ^= d;
    c ^= shifted;
    d = (d << 11) | (d >>> 21);
    return (result + 0.5) / 2 ** 32;
  };
}

/** Standard normal numbers by Box and Muller's method. */
function normals(seed: number): () => number {
  const uniform = uniforms(seed);
  let spare: number | undefined;
  return () => {
    if (spare !== undefined) {
      const kept = spare;
      spare = undefined;
      return kept;
    }
    const radius = Math.sqrt(-2 * Math.log(uniform()));
    const turn = 2 * Math.PI * uniform();
    spare = radius * Math.sin(turn);
    return radius * Math.cos(turn);
  };
}

export interface PlainSample {
  readonly plan: Placement;
  readonly scatter: PlacementScatter;
  readonly neckShaftAngle: number;
  readonly poses: readonly Pose[];
  readonly seed: number;
  readonly size: number;
}

/** How many placements have every angle between cup axis and neck axis within each of the limits, given by cosine. */
export function countReached(sample: PlainSample, leastCosines: readonly number[]): readonly number[] {
  const normal = normals(sample.seed);
  const { plan, scatter } = sample;
  const drop = (sample.neckShaftAngle - 90) * RAD;
  const [down, out] = [-Math.sin(drop), Math.cos(drop)];
  // Flexion and abduction turn after everything about the shaft, where stem version simply adds to external rotation.
  const turns = sample.poses.map((pose) => {
    const abducted = new Matrix4().makeRotationX((0 - pose.abduction) * RAD);
    const { elements } = new Matrix4().makeRotationZ(pose.flexion * RAD).multiply(abducted);
    return { elements, externalRotation: pose.externalRotation };
  });
  const counts = leastCosines.map(() => 0);
  for (let index = 0; index < sample.size; index += 1) {
    const inclination = (plan.inclination + scatter.inclination * normal()) * RAD;
    const anteversion = (plan.anteversion + scatter.anteversion * normal()) * RAD;
    const stem = plan.stemAnteversion + scatter.stemAnteversion * normal();
    const x = Math.sin(anteversion);
    const y = -Math.cos(anteversion) * Math.cos(inclination);
    const z = Math.cos(anteversion) * Math.sin(inclination);
    let least = 1;
    for (const { elements: m, externalRotation } of turns) {
      const about = (stem + externalRotation) * RAD;
      const [front, side] = [-out * Math.sin(about), out * Math.cos(about)];
      const cosine =
        x * (m[0] * front + m[4] * down + m[8] * side) +
        y * (m[1] * front + m[5] * down + m[9] * side) +
        z * (m[2] * front + m[6] * down + m[10] * side);
      if (cosine < least) least = cosine;
    }
    for (const [limit, leastCosine] of leastCosines.entries()) {
      if (least >= leastCosine) counts[limit] = (counts[limit] ?? 0) + 1;
    }
  }
  return counts;
}
