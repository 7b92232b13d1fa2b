import { degrees, millimetres } from '../../base/units.js';
import type { BoneShapes, BoneSphere, FemurPart, PelvisPart } from './generic-bone.js';
import { femurVector, pelvisVector } from '../vector.js';

/** How far down the anterior inferior iliac spine reaches: above the rim, to it, below it. */
export const SPINE_TYPES = ['I', 'II', 'III'] as const;

export type SpineType = (typeof SPINE_TYPES)[number];

type Place = readonly [x: number, y: number, z: number];

function pelvis(part: PelvisPart, place: Place, radius: number): BoneSphere<'pelvis', PelvisPart> {
  return { part, center: pelvisVector(...place), radius: millimetres(radius) };
}

function femur(part: FemurPart, place: Place, radius: number): BoneSphere<'femur', FemurPart> {
  return { part, center: femurVector(...place), radius: millimetres(radius) };
}

/**
 * Proposal, no source: centers of the spine by type. That type I lies 45 to 50 mm from the hip center is from memory;
 * that II reaches the rim and III passes below it is how the types are defined (published classification of 2013).
 */
const SPINE_CENTER: Readonly<Record<SpineType, Place>> = {
  I: [35, 30, 0.5],
  II: [35, 26, 0.5],
  III: [38, 22, 0.5],
};

/** Proposal, no source, but for the tip of the trochanter; each center and each radius, in mm. */
const OTHER_PELVIS = [
  pelvis('anterior-rim', [25.5, 23.5, 5], 4),
  pelvis('lateral-ilium', [4, 37.5, 15], 13),
  pelvis('posterior-wall', [-33, -4.5, 13], 9.5),
  pelvis('ischial-tuberosity', [-40.5, -44, -8.5], 10),
];

const FEMUR = [
  femur('trochanter-anterior-edge', [1.5, -16.5, 40], 10),
  // Lateral and vertical: mean of ten instrumented hips, supine tomography. Forward and radius: proposal, no source.
  femur('trochanter-tip', [-11.5, -3.8, 48.5], 7.5),
  femur('trochanter-posterior-edge', [-26.5, -19, 45], 8),
  femur('lesser-trochanter', [-19, -52, 20], 7),
  femur('intertrochanteric-line', [-1.5, -28.5, 22.5], 15),
];

function shapes(spine: SpineType): BoneShapes {
  return {
    // From memory: common means. Proposal that the femur is stated for them.
    femoralOffset: millimetres(42),
    stemAnteversion: degrees(15),
    // Radius: proposal, no source; the spine with its base.
    pelvis: [pelvis('anterior-inferior-iliac-spine', SPINE_CENTER[spine], 12), ...OTHER_PELVIS],
    femur: FEMUR,
  };
}

/**
 * Generic bone around a hip, one scene per type of spine.
 *
 * Certainty low: bone of nobody in particular. It was chosen, within believable anatomy, with published signs and bounds in
 * view, so agreeing with them is no validation; some do not hold even so. Use it for the direction of an effect, never for
 * its size or a person's range, and never for a warning.
 *
 * Steps of offset: from 0 to 4 and from 4 to 8 mm more, flexion and internal rotation at 90 degrees gain 4 to 15 degrees
 * each with types I and II. Losses are outside that bound (4 mm less cost 16.0, 16.6 and 18.1 degrees of flexion with types
 * I, II and III), and so is type III (4 mm more add 18.0). From 4 mm more on, the spine no longer ends flexion and the three
 * types are alike. The scene does not show where an effect levels off: with type I flexion gains 8.2 degrees from 0 to 4 mm,
 * 6.2 from 4 to 8 and 8.0 from 8 to 12.
 *
 * Fragile: with every number moved at random by up to half a millimetre, both gains of 4 mm are still gains in every scene
 * tried, but only a fifth of the scenes keep all of: 4 to 15 degrees each, and less from 4 to 8 mm than from 0 to 4, in
 * flexion and internal rotation, for types I and II. The smaller step is where one obstacle hands over to the next, which
 * is a matter of tenths of a degree for internal rotation with type II; in flexion with type I six scenes in ten keep it.
 * The order of the types survives in about as many.
 *
 * No citation stands behind a number here unless the number says so; before changing one, see
 * tests/biomechanics/bone/generic-bone-range.test.ts.
 */
export const GENERIC_BONE: Readonly<Record<SpineType, BoneShapes>> = {
  I: shapes('I'),
  II: shapes('II'),
  III: shapes('III'),
};
