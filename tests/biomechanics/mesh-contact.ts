import { MathUtils, Matrix4, Vector3, type BufferGeometry } from 'three';
import { MeshBVH } from 'three-mesh-bvh';
import type { NeckLean } from '../../src/biomechanics/range/half-oscillation.js';
import type { Liner } from '../../src/biomechanics/range/liner.js';
import type { MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import type { Neck } from '../../src/biomechanics/range/neck.js';
import type { ReplacedHip } from '../../src/biomechanics/range/prosthetic-margin.js';
import { cupOpening, linerFrame, movedFemur, neckFrame, turnedOpening } from './mesh-hip.js';
import { linerMesh, neckMesh } from './mesh-solids.js';

/** Degrees between the looks for a first collision, and to which it is then narrowed down. */
const STEP = 2;
const PRECISION = 0.002;

/** Meshes of a liner and a neck, ready for collision; both carry a bounding volume hierarchy. */
interface MeshJoint {
  readonly liner: MeshBVH;
  readonly neck: BufferGeometry;
}

/** How a motion of the meshes ends. */
export type MeshEnd =
  | { readonly kind: 'contact'; readonly at: number }
  | { readonly kind: 'contact-at-start' }
  | { readonly kind: 'free' };

export function meshJoint(liner: Liner, neck: Neck): MeshJoint {
  const neckGeometry = neckMesh(neck);
  neckGeometry.boundsTree = new MeshBVH(neckGeometry);
  return { liner: new MeshBVH(linerMesh(liner)), neck: neckGeometry };
}

/** Whether the surfaces cross, with the neck's frame told in the liner's. */
function collide({ liner, neck }: MeshJoint, neckInLiner: Matrix4): boolean {
  return liner.intersectsGeometry(neck, neckInLiner);
}

/** A replaced hip as meshes that can be moved. */
interface MeshHip {
  readonly joint: MeshJoint;
  readonly linerInPelvis: Matrix4;
  readonly neckInFemur: Matrix4;
}

export function meshHip({ cup, liner, stem, neck }: ReplacedHip): MeshHip {
  return {
    joint: meshJoint(liner, neck),
    linerInPelvis: linerFrame(turnedOpening(cupOpening(cup), liner.faceTurn)),
    neckInFemur: neckFrame(stem),
  };
}

/** Frame of the neck in that of the liner, after a motion. */
function neckInLinerAfter(hip: MeshHip, direction: MotionDirection, angle: number): Matrix4 {
  return hip.linerInPelvis.clone().invert().multiply(movedFemur(direction, angle)).multiply(hip.neckInFemur);
}

/** How far a motion goes, up to half a turn, before the meshes collide. */
export function meshEnd(hip: MeshHip, direction: MotionDirection): MeshEnd {
  const isTouching = (angle: number): boolean => collide(hip.joint, neckInLinerAfter(hip, direction, angle));
  if (isTouching(0)) return { kind: 'contact-at-start' };
  const at = firstCollision(isTouching);
  return at === undefined ? { kind: 'free' } : { kind: 'contact', at };
}

/** Half oscillation angle of the meshes: how far a neck leans toward an azimuth before it collides. */
export function meshHalf(joint: MeshJoint, { azimuth, roll }: NeckLean): number {
  const upright = uprightNeck(azimuth, roll);
  const isTouching = (lean: number): boolean => collide(joint, leaned(azimuth, lean).multiply(upright));
  return isTouching(0) ? 0 : (firstCollision(isTouching) ?? 180);
}

/** Turn of the neck from the liner's axis toward an azimuth (0 is y, 90 is x). */
function leaned(azimuth: number, lean: number): Matrix4 {
  const toward = MathUtils.degToRad(azimuth);
  const axis = new Vector3(0, 0, 1).cross(new Vector3(Math.sin(toward), Math.cos(toward), 0));
  return new Matrix4().makeRotationAxis(axis, MathUtils.degToRad(lean));
}

/** The neck in line with the liner, its flats' normal turned by the roll from the way in which azimuth grows. */
function uprightNeck(azimuth: number, roll: number): Matrix4 {
  return new Matrix4().makeRotationZ(MathUtils.degToRad(roll - azimuth));
}

function firstCollision(isTouching: (angle: number) => boolean): number | undefined {
  for (let angle = STEP; angle <= 180; angle += STEP) {
    if (isTouching(angle)) return narrowed(isTouching, angle - STEP, angle);
  }
  return undefined;
}

function narrowed(isTouching: (angle: number) => boolean, free: number, touching: number): number {
  let [low, high] = [free, touching];
  while (high - low > PRECISION) {
    const middle = (low + high) / 2;
    if (isTouching(middle)) high = middle;
    else low = middle;
  }
  return (low + high) / 2;
}
