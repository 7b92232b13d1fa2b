import type { Degrees } from '../../base/units.js';
import { radiographicToOperative, type CupOrientation } from './cup-orientation.js';

/**
 * Ante-inclination: how far a cup is opened forward in the sagittal plane, as a lateral film of the pelvis shows it.
 *
 * Frame: that of the orientation given; for the cup standing or seated, restate it into that posture first.
 * Units: degrees in, degrees out; forward positive, beyond 90 for a cup opened above horizontal.
 * Domain: inclination in (0, 180), anteversion in (-90, 90); RangeError outside.
 * Method: tan AI = tan RA / cos RI; the same angle as operative anteversion. Rolling the pelvis back by a degree adds
 * exactly a degree.
 * Source: ours; murray-1993 for both definitions (abstract read).
 * Checked: the printed equation, means measured in a published cohort and the change of ante-inclination in another,
 * in tests/biomechanics/orientation/cup-ante-inclination.test.ts.
 * Limits: measured on lateral films it was 6-10 degrees larger than computed in some series, the same on average in
 * another: never mix the two.
 *
 * @example
 * cupAnteInclination({ definition: 'radiographic', inclination: degrees(40), anteversion: degrees(20) })
 * //=> 25.41 (degrees, rounded)
 */
export function cupAnteInclination(cup: CupOrientation<'radiographic'>): Degrees {
  return radiographicToOperative(cup).anteversion;
}
