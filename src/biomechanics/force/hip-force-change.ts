import { spanOf, type Interval } from '../../base/interval.js';
import { millimetres, type Millimetres } from '../../base/units.js';
import { singleLegStance, type StanceLever } from './hip-force.js';
import { cosDeg, sinDeg } from '../trigonometry.js';

/** What changes the two arms of the stance lever. */
export interface LeverChange {
  /** How far the hip center moves toward the midline, the abductors' insertion staying where it is. */
  readonly centerMedialization: Millimetres;
  /** How far the femur, and the insertion with it, moves away from the midline: the change of global offset. */
  readonly globalOffset: Millimetres;
  /** How far the insertion moves on the femur; lateral and distal positive. */
  readonly trochanter: { readonly lateral: Millimetres; readonly distal: Millimetres };
  /** How far leaning the trunk brings the partial weight toward the standing hip. */
  readonly lean: Millimetres;
}

/** How much of a move is found in the abductor arm; the plane lever itself has all of it. */
export interface ArmReadings {
  /** Share of a medialization that reaches the abductor arm, as a range. */
  readonly medializationShare: Interval;
  /** Percent by which the abductor arm was found to change per millimetre of offset. */
  readonly percentPerMmOffset: number;
}

/** The arms after a change; the abductor arm as a range, because readings differ. */
export interface ChangedArms {
  readonly weightArm: Millimetres;
  readonly abductorArm: Interval;
}

/**
 * The arms of the stance lever after a change of the hip.
 *
 * Frame: frontal plane of the pelvis.
 * Units: millimetres in and out; shares and percent without unit.
 * Domain: shares in [0, 1], lower end first, percent not negative; arms that stay on their side (weight not past the hip
 * center, abductor arm positive); RangeError outside.
 * Method: a' = a - medialization - lean. h' = h + share x medialization + g + lateral cos t - distal sin t, where g is the
 * change of global offset, read once as 1 mm per millimetre (plane lever) and once as h x percent / 100; t angle of pull. The
 * range runs over both ends of the share and both readings. A center that moves and takes the femur along has
 * globalOffset = -medialization; one made up for by as much femoral offset has globalOffset 0.
 * Source: ours; a share of 1 and 1 mm per millimetre are the plane lever.
 * Checked: eight changes of a textbook lever, direction of each change, in tests/biomechanics/force/hip-force-change.test.ts.
 * Limits: the readings are combined as if independent, which makes the range wide: a medialization that nothing makes up
 * for reaches both sides of no change. Elevation of the center and a turn of the line of pull are left out.
 *
 * @example
 * changedArms(lever, { centerMedialization: millimetres(5), globalOffset: millimetres(0), ... },
 *   { medializationShare: { low: 0.1, high: 0.85 }, percentPerMmOffset: 1.5 })
 * //=> from 109.9 and 40 mm: weightArm 104.9, abductorArm 40.5 to 44.25 (mm)
 */
export function changedArms(lever: StanceLever, change: LeverChange, readings: ArmReadings): ChangedArms {
  const changed = armsAfter(lever, change, readings);
  if (!(changed.weightArm >= 0)) {
    throw new RangeError(`the weight arm must not pass the hip center, got ${changed.weightArm} mm`);
  }
  if (!(changed.abductorArm.low > 0)) {
    throw new RangeError(`the abductor arm must stay positive, got ${changed.abductorArm.low} mm`);
  }
  return changed;
}

/** Whether both arms stay on their side of the hip center: beyond that the lever has no such force. */
export function staysALever(lever: StanceLever, change: LeverChange, readings: ArmReadings): boolean {
  const { weightArm, abductorArm } = armsAfter(lever, change, readings);
  return weightArm >= 0 && abductorArm.low > 0;
}

function armsAfter(lever: StanceLever, change: LeverChange, readings: ArmReadings): ChangedArms {
  const { weightArm, abductorArm, abductorAngle } = lever;
  const { centerMedialization, globalOffset, trochanter, lean } = change;
  assertReadings(readings);
  const ofTrochanter = trochanter.lateral * cosDeg(abductorAngle) - trochanter.distal * sinDeg(abductorAngle);
  const ofCenter = [readings.medializationShare.low, readings.medializationShare.high].map(
    (share) => share * centerMedialization,
  );
  const ofOffset = [globalOffset, (abductorArm * readings.percentPerMmOffset * globalOffset) / 100];
  return {
    weightArm: millimetres(weightArm - centerMedialization - lean),
    abductorArm: spanOf(
      ofCenter.flatMap((center) => ofOffset.map((offset) => abductorArm + center + offset + ofTrochanter)),
    ),
  };
}

function assertReadings({ medializationShare: { low, high }, percentPerMmOffset }: ArmReadings): void {
  if (!(low >= 0 && low <= high && high <= 1)) {
    throw new RangeError(`share of a medialization must be a range within [0, 1], got ${low} to ${high}`);
  }
  if (!(percentPerMmOffset >= 0)) {
    throw new RangeError(`percent per millimetre of offset must not be negative, got ${percentPerMmOffset}`);
  }
}

/** Forces in body weights, as ranges. */
export interface StanceForceRange {
  readonly abductor: Interval;
  readonly contact: Interval;
}

/**
 * Abductor and joint force in single-leg stance after a change of the hip, as ranges.
 *
 * Frame: frontal plane of the pelvis, gravity vertical.
 * Units: body weights, millimetres and degrees in; body weights out.
 * Domain: as `changedArms` and `singleLegStance`; RangeError outside.
 * Method: `singleLegStance` at both ends of the abductor arm; both forces fall as the arm grows, so the ends are the range.
 * Source: ours.
 * Checked: eight changes of a textbook lever, direction of each change, in tests/biomechanics/force/hip-force-change.test.ts.
 * Limits: those of `singleLegStance` and `changedArms`; compare with the force before the change, not with a limit.
 *
 * @example
 * changedStance(lever, fiveMillimetresMedialMadeUpFor, readings)
 * //=> from 2.236 and 3.009: abductor 1.929 to 2.107, contact 2.704 to 2.882 (body weights, rounded)
 */
export function changedStance(
  lever: StanceLever,
  change: LeverChange,
  readings: ArmReadings,
): StanceForceRange {
  const { weightArm, abductorArm } = changedArms(lever, change, readings);
  const forces = [abductorArm.low, abductorArm.high].map((arm) =>
    singleLegStance({ ...lever, weightArm, abductorArm: millimetres(arm) }),
  );
  return {
    abductor: spanOf(forces.map(({ abductor }) => abductor)),
    contact: spanOf(forces.map(({ contact }) => contact)),
  };
}
