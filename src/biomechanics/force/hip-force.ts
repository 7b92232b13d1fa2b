import { millimetres, newtons, type Degrees, type Millimetres, type Newtons } from '../../base/units.js';
import { atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';

/** Standing on one leg as a lever about the hip center, in the frontal plane. */
export interface StanceLever {
  /** Weight the hip carries, as a share of body weight: the body without the standing leg. */
  readonly partialWeight: number;
  /** Distance of that weight's line from the hip center, toward the midline. */
  readonly weightArm: Millimetres;
  /** Distance of the abductors' line of pull from the hip center. */
  readonly abductorArm: Millimetres;
  /** Angle between the line of pull and the vertical. */
  readonly abductorAngle: Degrees;
}

/** Forces at the hip in body weights, and how the joint force leans. */
export interface StanceForce {
  readonly abductor: number;
  readonly contact: number;
  /** Angle of the joint force from the vertical. */
  readonly contactAngle: Degrees;
}

/**
 * Abductor and joint force in single-leg stance, by the plane lever.
 *
 * Frame: frontal plane of the pelvis, gravity vertical.
 * Units: body weights, millimetres and degrees in; body weights and degrees out.
 * Domain: partial weight positive, weight arm not negative, abductor arm positive, angle in [0, 90); RangeError outside. A
 * weight beyond the hip would need adductors, which the lever does not have.
 * Method: M = S a / h; R = hypot(S + M cos t, M sin t), leaning by atan2(M sin t, S + M cos t); S partial weight, a its arm,
 * h abductor arm, t angle of pull.
 * Source: ours; the balance of moments and forces, as the textbooks have it.
 * Checked: four textbook models, their sensitivities and ten instrumented hips in tests/biomechanics/force/hip-force.test.ts.
 * Limits: one muscle, one plane, standing still. Right for a group to about a tenth, for one person wrong by up to a third.
 *
 * @example
 * singleLegStance({
 *   partialWeight: 0.81365, weightArm: millimetres(109.9), abductorArm: millimetres(40), abductorAngle: degrees(21),
 * })
 * //=> abductor 2.236, contact 3.009, contactAngle 15.44 (body weights and degrees, rounded)
 */
export function singleLegStance({
  partialWeight,
  weightArm,
  abductorArm,
  abductorAngle,
}: StanceLever): StanceForce {
  if (!(partialWeight > 0)) throw new RangeError(`partial weight must be positive, got ${partialWeight}`);
  if (!(weightArm >= 0)) throw new RangeError(`weight arm must not be negative, got ${weightArm} mm`);
  if (!(abductorArm > 0)) throw new RangeError(`abductor arm must be positive, got ${abductorArm} mm`);
  if (!(abductorAngle >= 0 && abductorAngle < 90)) {
    throw new RangeError(`abductor angle must lie in [0, 90) degrees, got ${abductorAngle}`);
  }
  const abductor = (partialWeight * weightArm) / abductorArm;
  return {
    abductor,
    ...resultant(abductor * sinDeg(abductorAngle), partialWeight + abductor * cosDeg(abductorAngle)),
  };
}

/** Size and lean of a joint force from its horizontal and vertical parts. */
function resultant(horizontal: number, vertical: number): Pick<StanceForce, 'contact' | 'contactAngle'> {
  return { contact: Math.hypot(horizontal, vertical), contactAngle: atan2Deg(horizontal, vertical) };
}

/** A part of the body: its share of body weight and where it hangs. A part that is taken away has a negative share. */
export interface BodyPart {
  readonly share: number;
  /** Distance of its weight's line from the center of the standing hip, toward the midline. */
  readonly medial: Millimetres;
}

/**
 * The weight the standing hip carries and its arm, from the parts of the body.
 *
 * Frame: frontal plane; distances from the center of the standing hip, toward the midline positive.
 * Units: shares of body weight and millimetres in and out.
 * Domain: shares that add up to more than 0; RangeError otherwise.
 * Method: sum of shares; sum of share x distance over it. Whole body minus standing leg and trunk plus lifted leg both fit.
 * Source: ours; the common center of weights.
 * Checked: two textbook models in tests/biomechanics/force/hip-force.test.ts.
 * Limits: standing still; the body swings when walking.
 *
 * @example
 * partialWeight([{ share: 0.6273, medial: millimetres(86.9) }, { share: 0.18635, medial: millimetres(187.3) }])
 * //=> partialWeight 0.81365, weightArm 109.9 (rounded)
 */
export function partialWeight(parts: readonly BodyPart[]): Pick<StanceLever, 'partialWeight' | 'weightArm'> {
  const weight = parts.reduce((sum, { share }) => sum + share, 0);
  if (!(weight > 0)) throw new RangeError(`shares of body weight must add up to more than 0, got ${weight}`);
  const moment = parts.reduce((sum, { share, medial }) => sum + share * medial, 0);
  return { partialWeight: weight, weightArm: millimetres(moment / weight) };
}

/**
 * Arm of the partial weight from the distance of the two hip centers.
 *
 * Frame: frontal plane.
 * Units: millimetres in and out; the factor has no unit.
 * Domain: both positive; RangeError otherwise.
 * Method: factor x distance / 2. Textbooks have factors from 1.11 to 1.29; the factor is an input.
 * Source: ours; a proportion.
 * Checked: three textbook models in tests/biomechanics/force/hip-force.test.ts.
 * Limits: an average body on one leg, trunk upright.
 *
 * @example
 * weightArmFromHipCenters(millimetres(170), 1.28)
 * //=> 108.8 (mm)
 */
export function weightArmFromHipCenters(hipCenterDistance: Millimetres, factor: number): Millimetres {
  if (!(hipCenterDistance > 0 && factor > 0)) {
    throw new RangeError(
      `hip-center distance and factor must be positive, got ${hipCenterDistance} mm and ${factor}`,
    );
  }
  return millimetres((factor * hipCenterDistance) / 2);
}

/** Where the abductors insert, seen from the hip center, in the frontal plane. */
export interface AbductorInsertion {
  readonly lateral: Millimetres;
  readonly cranial: Millimetres;
}

/**
 * Abductor arm from where the muscle inserts and the direction it pulls in.
 *
 * Frame: frontal plane, from the hip center; lateral and cranial positive.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: a line of pull lateral to the hip center, angle in [0, 90); RangeError otherwise.
 * Method: distance of the hip center from the line: lateral cos t + cranial sin t, t angle of pull from the vertical.
 * Source: ours; elementary geometry.
 * Checked: ten hips in tests/biomechanics/force/hip-force.test.ts.
 * Limits: the angle of pull is kept whatever the insertion does; with the origin fixed it would change a little.
 *
 * @example
 * abductorArmFromInsertion({ lateral: millimetres(53.5), cranial: millimetres(-4.6) }, degrees(21))
 * //=> 48.30 (mm, rounded)
 */
export function abductorArmFromInsertion(
  { lateral, cranial }: AbductorInsertion,
  abductorAngle: Degrees,
): Millimetres {
  const arm = lateral * cosDeg(abductorAngle) + cranial * sinDeg(abductorAngle);
  if (!(abductorAngle >= 0 && abductorAngle < 90 && arm > 0)) {
    throw new RangeError(
      `the abductors must pull lateral to the hip center, at an angle in [0, 90) degrees; got an arm of ${arm} mm at ${abductorAngle}`,
    );
  }
  return millimetres(arm);
}

/** Weight of one kilogram, m/s^2. */
const GRAVITY = 9.81;

/**
 * A force in newtons from body weights and body mass.
 *
 * Frame: none.
 * Units: body weights and kilograms in, newtons out.
 * Domain: body mass positive; RangeError otherwise.
 * Method: body weights x mass x 9.81 m/s^2.
 * Source: ours; the definition of weight.
 * Checked: published percentages restated in tests/biomechanics/force/hip-force.test.ts.
 * Limits: none.
 *
 * @example
 * bodyWeightsToNewtons(2.6, 75)
 * //=> 1912.95 (N)
 */
export function bodyWeightsToNewtons(bodyWeights: number, bodyMassKg: number): Newtons {
  if (!(bodyMassKg > 0)) throw new RangeError(`body mass must be positive, got ${bodyMassKg} kg`);
  return newtons(bodyWeights * bodyMassKg * GRAVITY);
}
