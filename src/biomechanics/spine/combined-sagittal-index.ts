import { degrees, type Degrees } from '../../base/units.js';

/** The sagittal angles of one hip in one posture. */
export interface SagittalAngles {
  readonly anteInclination: Degrees;
  /** Between pelvis and femoral shaft; 180 for a leg in line with the pelvis, less in flexion. */
  readonly pelvicFemoralAngle: Degrees;
}

/**
 * Combined sagittal index: how far cup and femur together open the hip forward in one posture.
 *
 * Frame: sagittal plane, one posture for both angles.
 * Units: degrees in, degrees out.
 * Domain: finite angles.
 * Method: ante-inclination + pelvic-femoral angle. A pelvis that rolls back over a resting femur adds to both, so
 * both must come from one film.
 * Source: ours; the sum in the name, as published.
 * Checked: two worked examples from one published table in tests/biomechanics/spine/combined-sagittal-index.test.ts.
 * Limits: a sum of an angle of the cup and one of the bones; says nothing about stem version or adduction. Limits to
 * compare it with are inputs of whoever compares: those standing were read, those seated were only recalled.
 *
 * @example
 * combinedSagittalIndex({ anteInclination: degrees(35), pelvicFemoralAngle: degrees(180) })
 * //=> 215 (degrees)
 */
export function combinedSagittalIndex({ anteInclination, pelvicFemoralAngle }: SagittalAngles): Degrees {
  return degrees(anteInclination + pelvicFemoralAngle);
}
