import { degrees, type Degrees } from '../../base/units.js';
import { assertCupAngle, type CupDefinition, type CupOrientation } from './cup-orientation.js';

/** The anteversion of a cup in a stated definition; sums of different definitions are different quantities. */
export type CupAnteversion<D extends CupDefinition> = Pick<CupOrientation<D>, 'definition' | 'anteversion'>;

/** Anteversion of cup and stem together, with the definition its cup part was stated in. */
export interface CombinedAnteversion<D extends CupDefinition> {
  readonly cupDefinition: D;
  readonly sum: Degrees;
}

/**
 * Combined anteversion: the cup's anteversion in a stated definition plus the stem's.
 *
 * Frame: none; the stem's version against the posterior condyles, forward positive, as the published sums take it.
 * Units: degrees in, degrees out.
 * Domain: cup anteversion in the domain of its definition, RangeError outside; any finite stem version.
 * Method: cup anteversion + stem anteversion. The definition stays part of the type, because one hip has three sums:
 * 40/20 radiographic with a stem at 15 has 35.0 radiographic, 40.4 operative and 44.5 anatomic.
 * Source: jolles-2002 for the sum of cup and stem (abstract read). Published ranges differ in the cup definition they
 * mean and often leave it open.
 * Checked: a worked example and the three sums of one hip in tests/biomechanics/orientation/combined-anteversion.test.ts.
 * Limits: a sum of angles about different axes; no measure of range. Says nothing about tilt, inclination or neck.
 *
 * @example
 * combinedAnteversion({ definition: 'radiographic', anteversion: degrees(20) }, degrees(15))
 * //=> cupDefinition 'radiographic', sum 35 (degrees)
 */
export function combinedAnteversion<D extends CupDefinition>(
  { definition, anteversion }: CupAnteversion<D>,
  stem: Degrees,
): CombinedAnteversion<D> {
  assertCupAngle('anteversion', definition, anteversion);
  return { cupDefinition: definition, sum: degrees(anteversion + stem) };
}

/** A published line that couples cup and stem: cup + stemWeight × stem = sum. */
export interface CouplingLine {
  readonly sum: Degrees;
  /** How much cup anteversion one degree of stem version is worth. */
  readonly stemWeight: number;
}

/**
 * What the cup must give for a stem whose version is fixed, by a published line.
 *
 * Frame: none; the cup in the definition of the line, the stem forward positive.
 * Units: degrees in, degrees out; the weight without unit.
 * Domain: finite numbers. The result is not held to any range: a very retroverted stem asks for an impossible cup.
 * Method: sum - stemWeight × stem.
 * Source: the line is an input. Widmer and Zurfluh 2004 print 37.3 and 0.7 for radiographic cup anteversion at
 * inclination 40-45 (read in a paper that cites them).
 * Checked: six worked examples of that line in tests/biomechanics/orientation/combined-anteversion.test.ts.
 * Limits: a model of one prosthesis at stated inclinations; not valid for other necks, shafts or motions.
 *
 * @example
 * cupAnteversionForStem(degrees(15), { sum: degrees(37.3), stemWeight: 0.7 })
 * //=> 26.8 (degrees)
 */
export function cupAnteversionForStem(stem: Degrees, { sum, stemWeight }: CouplingLine): Degrees {
  return degrees(sum - stemWeight * stem);
}
