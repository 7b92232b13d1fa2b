import { degrees, type Degrees, type Millimetres } from '../../base/units.js';
import { asinDeg, atan2Deg } from '../trigonometry.js';

/** Head and neck diameters, and where the head center lies. */
export interface HeadNeckGeometry {
  /** Head diameter. */
  readonly head: Millimetres;
  /** Neck diameter where it meets the rim; the skirt's diameter for a skirted head. */
  readonly neck: Millimetres;
  /** Head center against the liner's opening plane; positive outside, negative inset. */
  readonly centerOffset: Millimetres;
}

function assertNeckInsideHead(head: Millimetres, neck: Millimetres): void {
  if (!(head > 0)) throw new RangeError(`head diameter must be positive, got ${head} mm`);
  if (!(neck > 0 && neck < head)) {
    throw new RangeError(`neck diameter must lie between 0 and the head diameter ${head} mm, got ${neck} mm`);
  }
}

/**
 * Head-neck ratio: head diameter over neck diameter.
 *
 * Frame: none.
 * Units: millimetres in; a ratio without unit out.
 * Domain: head positive, neck positive and thinner than the head; RangeError outside.
 * Method: head / neck.
 * Source: ours; the definition in the name.
 * Checked: tests/biomechanics/range/head-neck.test.ts.
 * Limits: says nothing about where the head center lies, nor about chamfers and skirts.
 *
 * @example
 * headNeckRatio(millimetres(28), millimetres(12))
 * //=> 2.333 (rounded)
 */
export function headNeckRatio(head: Millimetres, neck: Millimetres): number {
  assertNeckInsideHead(head, neck);
  return head / neck;
}

/**
 * Oscillation angle: the full angle the neck axis can sweep in a plane through the cup axis, rim to rim.
 *
 * Frame: none; symmetric about the cup axis.
 * Units: millimetres in, degrees out.
 * Domain: head positive, neck positive and thinner than the head, center offset smaller than the head radius in size;
 * RangeError outside.
 * Method: R = head/2, n = neck/2. Center inset by c >= 0: 2 (atan2(R, c) - asin(n / sqrt(R^2 + c^2))). Center outside by
 * C > 0: 2 (90 + asin(C/R) - asin(n/R)). At 0 both are 2 (90 - asin(neck/head)) = 2 acos(neck/head).
 * Source: the closed forms are ours; oscillation-2008 and oscillation-2011 print figures that they reproduce.
 * Checked: both sources, to their printed precision, and derived tables in tests/biomechanics/range/head-neck.test.ts.
 * Limits: flat 180-degree liner without chamfer or elevated rim, round neck. A chamfer raises the angle.
 *
 * @example
 * oscillationAngle({ head: millimetres(28), neck: millimetres(12), centerOffset: millimetres(0) })
 * //=> 129.25 (degrees, rounded)
 */
export function oscillationAngle({ head, neck, centerOffset }: HeadNeckGeometry): Degrees {
  assertNeckInsideHead(head, neck);
  const headRadius = head / 2;
  const neckRadius = neck / 2;
  if (!(Math.abs(centerOffset) < headRadius)) {
    throw new RangeError(
      `center offset must be smaller than the head radius ${headRadius} mm, got ${centerOffset} mm`,
    );
  }
  if (centerOffset > 0) {
    return degrees(2 * (90 + asinDeg(centerOffset / headRadius) - asinDeg(neckRadius / headRadius)));
  }
  const rimDistance = Math.hypot(headRadius, centerOffset);
  return degrees(2 * (atan2Deg(headRadius, Math.abs(centerOffset)) - asinDeg(neckRadius / rimDistance)));
}
