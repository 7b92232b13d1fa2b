import type { Degrees } from '../../base/units.js';

/** What hip and lumbar spine each give to one way of sitting down; positive when they flex. */
export interface FlexionShares {
  /** Pelvic-femoral angle standing - seated. */
  readonly hip: Degrees;
  /** Lumbar lordosis standing - seated. */
  readonly lumbar: Degrees;
}

/**
 * Hip-user index: the share of sagittal flexion that comes from the hip.
 *
 * Frame: sagittal plane, standing and one seated posture, the same for both shares.
 * Units: degrees in, percent out.
 * Domain: shares that add up to more than 0; RangeError otherwise. Above 100 when the spine extends.
 * Method: hip / (hip + lumbar) × 100.
 * Source: ours; the ratio in the name, as published.
 * Checked: a worked example and closed forms in tests/biomechanics/spine/hip-user-index.test.ts.
 * Limits: a ratio: a stiff spine with a stiff hip has the index of a supple one. Relaxed and flexed sitting give
 * different numbers.
 *
 * @example
 * hipUserIndex({ hip: degrees(90), lumbar: degrees(45) })
 * //=> 66.67 (percent, rounded)
 */
export function hipUserIndex({ hip, lumbar }: FlexionShares): number {
  const both = hip + lumbar;
  if (!(both > 0))
    throw new RangeError(`hip and spine together must flex by more than 0 degrees, got ${both}`);
  return (100 * hip) / both;
}
