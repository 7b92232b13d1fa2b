import { type Degrees, type Millimetres } from '../../base/units.js';
import type { StanceForce } from './hip-force.js';
import { atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';

/** The standing leg alone, cut free at the hip. */
export interface StandingLeg {
  /** Force of the ground, in body weights: 1 when standing on this leg only. */
  readonly groundReaction: number;
  /** Weight of the leg, in body weights. */
  readonly legWeight: number;
  /** Angle between the abductors' line of pull and the horizontal. */
  readonly pullAngle: Degrees;
  /** How far the trochanter, at the height of the hip center, lies lateral to it. */
  readonly trochanterLateral: Millimetres;
  /** How far the foot stands medial to the hip center. Leaning over the hip brings the foot under it. */
  readonly footMedial: Millimetres;
  /** Where the leg's weight hangs, as a share of the way from trochanter to foot. */
  readonly legCenterShare: number;
}

/**
 * Abductor and joint force in single-leg stance, from the balance of the standing leg.
 *
 * Frame: frontal plane, gravity vertical; distances from the hip center, medial positive.
 * Units: body weights, millimetres and degrees in; body weights and degrees out.
 * Domain: ground reaction above leg weight, leg weight not negative, trochanter lateral to the center, angle of pull in (0, 90],
 * share in [0, 1], a foot so far medial that abductors are needed; RangeError outside.
 * Method: the leg's weight hangs at xC = share (xF + xT) - xT; T = (N xF - w xC) / (xT sin t); joint force
 * (T cos t, T sin t + N - w); N ground reaction, w leg weight, xT trochanter, xF foot, t angle of pull.
 * Source: ours; the balance of moments and forces.
 * Checked: a textbook example (1.6 and 2.4 body weights) in tests/biomechanics/force/hip-force.test.ts.
 * Limits: as `singleLegStance`; one distance of the textbook example is recalled only.
 *
 * @example
 * standingLegForce({
 *   groundReaction: 1, legWeight: 1 / 7, pullAngle: degrees(70),
 *   trochanterLateral: millimetres(70), footMedial: millimetres(110), legCenterShare: 5 / 9,
 * })
 * //=> abductor 1.607, contact 2.430, contactAngle 13.07 (body weights and degrees, rounded)
 */
export function standingLegForce(leg: StandingLeg): StanceForce {
  const { groundReaction, legWeight, pullAngle, trochanterLateral, footMedial, legCenterShare } = leg;
  assertLeg(leg);
  const legCenterMedial = legCenterShare * (footMedial + trochanterLateral) - trochanterLateral;
  const abductor =
    (groundReaction * footMedial - legWeight * legCenterMedial) / (trochanterLateral * sinDeg(pullAngle));
  if (!(abductor >= 0)) {
    throw new RangeError(
      `the foot must stand medial enough for abductors to be needed, got ${footMedial} mm`,
    );
  }
  const horizontal = abductor * cosDeg(pullAngle);
  const vertical = abductor * sinDeg(pullAngle) + groundReaction - legWeight;
  return {
    abductor,
    contact: Math.hypot(horizontal, vertical),
    contactAngle: atan2Deg(horizontal, vertical),
  };
}

function assertLeg({
  groundReaction,
  legWeight,
  pullAngle,
  trochanterLateral,
  legCenterShare,
}: StandingLeg): void {
  if (!(legWeight >= 0 && groundReaction > legWeight)) {
    throw new RangeError(
      `leg weight must lie between 0 and the ground reaction ${groundReaction}, got ${legWeight}`,
    );
  }
  if (!(pullAngle > 0 && pullAngle <= 90)) {
    throw new RangeError(`angle of pull must lie in (0, 90] degrees, got ${pullAngle}`);
  }
  if (!(trochanterLateral > 0)) {
    throw new RangeError(`trochanter must lie lateral to the hip center, got ${trochanterLateral} mm`);
  }
  if (!(legCenterShare >= 0 && legCenterShare <= 1)) {
    throw new RangeError(`leg center must lie between trochanter and foot, got a share of ${legCenterShare}`);
  }
}
