import type { Degrees, Millimetres } from '../../base/units.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { femurVector, pelvisVector, type Frame, type Vec3 } from '../vector.js';

/** Parts of the pelvis that bone of the femur may meet. */
export type PelvisPart =
  | 'anterior-inferior-iliac-spine'
  | 'anterior-rim'
  | 'lateral-ilium'
  | 'posterior-wall'
  | 'ischial-tuberosity';

/** Parts of the proximal femur that may meet the pelvis. */
export type FemurPart =
  | 'trochanter-anterior-edge'
  | 'trochanter-tip'
  | 'trochanter-posterior-edge'
  | 'lesser-trochanter'
  | 'intertrochanteric-line';

/** A part of a bone as a sphere; the center in millimetres from the hip center. */
export interface BoneSphere<F extends Frame, Part extends string> {
  readonly part: Part;
  readonly center: Vec3<F>;
  readonly radius: Millimetres;
}

/** Bone around one hip: what turns with the femur, and what stays. */
export interface BoneScene {
  readonly pelvis: readonly BoneSphere<'pelvis', PelvisPart>[];
  readonly femur: readonly BoneSphere<'femur', FemurPart>[];
}

/** A scene, and the stem for which its femur is stated. */
export interface BoneShapes extends BoneScene {
  /** Distance from the head center to the shaft axis, in the plane of the neck. */
  readonly femoralOffset: Millimetres;
  readonly stemAnteversion: Degrees;
}

/** What the components change against the shapes as they are stated. */
export interface BonePlacement {
  /** More offset is positive. */
  readonly femoralOffsetChange: Millimetres;
  /** How much further proximal on the femur the head center sits, so that the femur moves distally. */
  readonly headHeightChange: Millimetres;
  /** How far the hip center lies medial of the stated one. */
  readonly hipCenterMedial: Millimetres;
  /** How far the hip center lies cranial of the stated one. */
  readonly hipCenterCranial: Millimetres;
  /** The stem's anteversion itself, not a change. */
  readonly stemAnteversion: Degrees;
}

/**
 * Bone around the hip center once the components are in: each sphere where the new center sees it.
 *
 * Frame: pelvis and femur; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: millimetres and degrees in, millimetres out.
 * Domain: stem anteversion in (-90, 90), resulting offset positive; RangeError outside.
 * Method: pelvis parts shift against the hip center: (0, -cranial, +medial). The head center stands O (sin AT, 0, -cos AT)
 * from the shaft axis, so femur parts shift by O (sin AT, 0, -cos AT) of the stated stem minus the same of the placed
 * one, and by (0, -height, 0). O femoral offset, AT stem anteversion. Neck length and neck-shaft angle enter through
 * offset and height alone; head size, neck thickness and cup orientation do not enter.
 * Source: ours; elementary geometry.
 * Checked: closed forms and a turn about the shaft by three in tests/biomechanics/bone/generic-bone.test.ts.
 * Limits: low certainty: bone of nobody in particular, as spheres. Leg length changes by height minus cranial shift.
 *
 * @example
 * // a sphere at (0, 0, 48) of a stem of offset 40, version 0
 * placeBone(shapes, { ...unchanged, femoralOffsetChange: millimetres(4) }).femur[0].center
 * //=> [0, 0, 52] (mm)
 */
export function placeBone(shapes: BoneShapes, placement: BonePlacement): BoneScene {
  const { femoralOffsetChange, headHeightChange, hipCenterMedial, hipCenterCranial } = placement;
  const [statedX, statedZ] = headFromShaft(shapes.femoralOffset, shapes.stemAnteversion);
  const [placedX, placedZ] = headFromShaft(
    shapes.femoralOffset + femoralOffsetChange,
    placement.stemAnteversion,
  );
  return {
    pelvis: shapes.pelvis.map((sphere) => {
      const [x, y, z] = sphere.center;
      return { ...sphere, center: pelvisVector(x, y - hipCenterCranial, z + hipCenterMedial) };
    }),
    femur: shapes.femur.map((sphere) => {
      const [x, y, z] = sphere.center;
      const center = femurVector(x + statedX - placedX, y - headHeightChange, z + statedZ - placedZ);
      return { ...sphere, center };
    }),
  };
}

function headFromShaft(offset: number, anteversion: Degrees): readonly [x: number, z: number] {
  if (!(anteversion > -90 && anteversion < 90)) {
    throw new RangeError(`stem anteversion must lie in (-90, 90) degrees, got ${anteversion}`);
  }
  if (!(offset > 0)) throw new RangeError(`femoral offset must be positive, got ${offset} mm`);
  return [offset * sinDeg(anteversion), -offset * cosDeg(anteversion)];
}
