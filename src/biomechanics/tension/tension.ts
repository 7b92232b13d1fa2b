import { millimetres, type Millimetres } from '../../base/units.js';
import { roundForUnit } from '../../base/rounding.js';
import { linerShift, type LateralizedLiner } from './liner-shift.js';
import { femoralOffsetChangeFromComponents, neckDisplacement, type NeckChange } from './neck-change.js';
import { pelvisVector, type Vec3 } from '../vector.js';

/** What moves the femur against the pelvis, in the order in which the causes are applied. */
export const DISPLACEMENT_CAUSES = [
  'neck-length',
  'neck-shaft-angle',
  'stem-version',
  'stem-seating',
  'liner-lateralization',
  'hip-center',
] as const;

export type DisplacementCause = (typeof DISPLACEMENT_CAUSES)[number];

/** Everything a plan changes that moves the femur against the pelvis, and the trochanter against the femur. */
export interface ComponentChange {
  readonly neck: NeckChange;
  /** How much deeper the stem sits in the femur; deeper positive, which shortens the leg. */
  readonly stemSeating: Millimetres;
  /** Left out when the liner is a plain one. */
  readonly liner?: LateralizedLiner;
  readonly centerMedialization: Millimetres;
  readonly centerElevation: Millimetres;
  /** The abductors' insertion against the femur; lateral and distal positive. */
  readonly trochanter: { readonly lateral: Millimetres; readonly distal: Millimetres };
}

/** How the femur, and the insertion of the abductors on it, move against the pelvis. */
export interface FemurDisplacement {
  readonly byCause: Readonly<Record<DisplacementCause, Vec3<'pelvis'>>>;
  /** Sum over the causes. */
  readonly femur: Vec3<'pelvis'>;
  /** The femur's displacement and the trochanter's advancement. */
  readonly abductorInsertion: Vec3<'pelvis'>;
}

function sum(vectors: readonly Vec3<'pelvis'>[]): Vec3<'pelvis'> {
  return vectors.reduce((a, b) => pelvisVector(a[0] + b[0], a[1] + b[1], a[2] + b[2]), pelvisVector(0, 0, 0));
}

/**
 * How a plan moves the femur against the pelvis, as a vector split by cause.
 *
 * Frame: pelvis, femur in neutral position; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: millimetres and degrees in; vectors in millimetres out.
 * Domain: as `neckDisplacement` and `cupAxis`; RangeError outside.
 * Method: neck by `neckDisplacement`; seating (0, s, 0); liner l x cup axis; hip center (0, elevation, -medialization),
 * the femur going where the center goes. Applied in the order of `DISPLACEMENT_CAUSES`; order matters for the three
 * changes of the neck only. Advancement (0, -distal, lateral) is added for the insertion, which the femur does not follow.
 * Source: ours; the geometry of the parts.
 * Checked: closed forms, and the whole against the parts, in tests/biomechanics/tension/tension.test.ts.
 * Limits: where the parts put the femur, not what the soft tissue allows; the femur keeps its rotation.
 *
 * @example
 * femurDisplacement({
 *   neck: { before: stem, lengthChange: millimetres(0), neckShaftAngleChange: degrees(0), stemVersionChange: degrees(0) },
 *   stemSeating: millimetres(0), centerMedialization: millimetres(0), centerElevation: millimetres(0),
 *   liner: { lateralization: millimetres(4), cup: radiographic40And15 },
 *   trochanter: { lateral: millimetres(0), distal: millimetres(0) },
 * }).femur
 * //=> [1.04, -2.96, 2.48] (mm, rounded)
 */
export function femurDisplacement(change: ComponentChange): FemurDisplacement {
  const { neckLength, neckShaftAngle, stemVersion } = neckDisplacement(change.neck);
  const byCause = {
    'neck-length': neckLength,
    'neck-shaft-angle': neckShaftAngle,
    'stem-version': stemVersion,
    'stem-seating': pelvisVector(0, change.stemSeating, 0),
    'liner-lateralization': change.liner ? linerShift(change.liner) : pelvisVector(0, 0, 0),
    'hip-center': pelvisVector(0, change.centerElevation, 0 - change.centerMedialization),
  };
  const femur = sum(DISPLACEMENT_CAUSES.map((cause) => byCause[cause]));
  const advancement = pelvisVector(0, 0 - change.trochanter.distal, change.trochanter.lateral);
  return { byCause, femur, abductorInsertion: sum([femur, advancement]) };
}

/** What a displacement of the femur means in the words of a plan; longer, more offset and anterior are positive. */
export interface Tension {
  /** In the plane of the neck. */
  readonly femoralOffset: Millimetres;
  /** As a film of the pelvis shows it with the femur in neutral rotation. */
  readonly femoralOffsetFrontal: Millimetres;
  readonly legLength: Millimetres;
  readonly globalOffset: Millimetres;
  readonly anteriorShift: Millimetres;
}

/**
 * Offset, length and forward shift a plan leads to.
 *
 * Frame: pelvis, femur in neutral position; more offset, longer and anterior are positive.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: as `femurDisplacement`.
 * Method: femoral offset by `femoralOffsetChangeFromComponents`; its frontal projection is the lateral part of the three
 * changes of the neck; leg length -y, global offset z and anterior shift x of the whole displacement.
 * Source: ours; the projections of one vector.
 * Checked: closed forms in tests/biomechanics/tension/tension.test.ts.
 * Limits: changes, not totals; what the other leg does is not known here.
 *
 * @example
 * tension(plan)
 * //=> for a neck 4 mm longer at 135 degrees, stem version 15: femoralOffset 2.83, femoralOffsetFrontal 2.73,
 * //   legLength 2.83, globalOffset 2.73, anteriorShift -0.73 (mm, rounded)
 */
export function tension(change: ComponentChange): Tension {
  const { byCause, femur } = femurDisplacement(change);
  const ofNeck = sum([byCause['neck-length'], byCause['neck-shaft-angle'], byCause['stem-version']]);
  return {
    femoralOffset: femoralOffsetChangeFromComponents(change.neck),
    femoralOffsetFrontal: millimetres(ofNeck[2]),
    legLength: legLengthFrom(femur),
    globalOffset: millimetres(femur[2]),
    anteriorShift: millimetres(femur[0]),
  };
}

function legLengthFrom(femur: Vec3<'pelvis'>): Millimetres {
  return millimetres(0 - femur[1]);
}

/**
 * Change of leg length a plan leads to.
 *
 * Frame: pelvis, femur in neutral position; longer positive.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: as `femurDisplacement`.
 * Method: how far the femur moves distally: -y of `femurDisplacement`.
 * Source: ours.
 * Checked: derived tables in tests/biomechanics/tension/tension.test.ts.
 * Limits: the leg as the skeleton has it; contracture and a tilted pelvis make it seem longer or shorter.
 *
 * @example
 * legLengthChangeFromComponents(plan)
 * //=> 2.83 (mm, rounded) for a neck 4 mm longer at 135 degrees; 2 mm less when the stem sits 2 mm deeper
 */
export function legLengthChangeFromComponents(change: ComponentChange): Millimetres {
  return legLengthFrom(femurDisplacement(change).femur);
}

/**
 * How far a change that was stated lies from the one its components give.
 *
 * Frame: that of the two changes.
 * Units: millimetres in, millimetres out.
 * Domain: limit not negative; RangeError otherwise.
 * Method: stated - computed, rounded as facts are before it is compared; beyond the limit when larger in size, not equal.
 * Source: ours; the definition of a difference. The limit belongs to the rulebook.
 * Checked: tests/biomechanics/tension/tension.test.ts.
 * Limits: says that two figures disagree, not which one is wrong.
 *
 * @example
 * statedAgainstComputed({ stated: millimetres(8), computed: millimetres(2.83), limit: millimetres(3) })
 * //=> difference 5.17, beyondLimit true
 */
export function statedAgainstComputed({
  stated,
  computed,
  limit,
}: {
  readonly stated: Millimetres;
  readonly computed: Millimetres;
  readonly limit: Millimetres;
}): { readonly difference: Millimetres; readonly beyondLimit: boolean } {
  if (!(limit >= 0)) throw new RangeError(`limit must not be negative, got ${limit} mm`);
  const difference = millimetres(roundForUnit(stated - computed, 'mm'));
  return { difference, beyondLimit: Math.abs(difference) > limit };
}
