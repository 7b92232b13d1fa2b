import { degrees, type Degrees } from '../../base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
  type CupOrientation,
} from './cup-orientation.js';
import { toRadiographic, type RadiographicOutcome, type StatedCupAngle } from './mixed-cup-angles.js';

/** What an author adds up: which cup angles, in which definition, and what a degree of stem version counts. */
export interface VersionSum {
  readonly anteversion: CupDefinition;
  /** The definition of the inclination that is added too, where the author adds it. */
  readonly inclination: CupDefinition | 'not-added';
  readonly stemWeight: number;
}

/** A published line: the sum an author asks for. */
export interface VersionLine extends VersionSum {
  readonly sum: Degrees;
}

/** A cup and a stem. */
export interface CupAndStem {
  readonly cup: CupOrientation<'radiographic'>;
  /** Version against the posterior condyles, forward positive. */
  readonly stemAnteversion: Degrees;
}

/**
 * Combined version as one author adds it up, from a radiographic cup.
 *
 * Frame: pelvis for the cup; the stem against the posterior condyles, forward positive.
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion in (-90, 90), any finite weight; RangeError outside.
 * Method: cup anteversion in the author's definition (+ inclination in the author's definition, where it is added)
 * + stemWeight × stem. The restating is done here, so that a radiographic angle never enters a sum of another kind.
 * Source: the sum is an input; murray-1993 for the definitions (abstract read).
 * Checked: published lines and sums of one hip in tests/biomechanics/orientation/author-combined-version.test.ts.
 * Limits: a sum of angles about different axes; sums of two authors are two quantities and must not be compared.
 *
 * @example
 * const cup = { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(20) } as const;
 * const sum = { anteversion: 'anatomic', inclination: 'not-added', stemWeight: 1 } as const;
 * authorCombinedVersion({ cup, stemAnteversion: degrees(15) }, sum)
 * //=> 44.52 (degrees, rounded)
 */
export function authorCombinedVersion({ cup, stemAnteversion }: CupAndStem, author: VersionSum): Degrees {
  const axis = cupAxis(cup);
  const { anteversion } = cupOrientationFromAxis(axis, author.anteversion);
  const inclination =
    author.inclination === 'not-added' ? 0 : cupOrientationFromAxis(axis, author.inclination).inclination;
  return degrees(anteversion + inclination + author.stemWeight * stemAnteversion);
}

/**
 * How far a hip lies beside a published line; positive with more version than the line asks for.
 *
 * Frame: as `authorCombinedVersion`.
 * Units: degrees in, degrees out, in the author's sum.
 * Domain: as `authorCombinedVersion`.
 * Method: the author's sum of this hip - the sum of the line.
 * Source: the line is an input.
 * Checked: hips on published lines in tests/biomechanics/orientation/author-combined-version.test.ts.
 * Limits: a line is a model of one prosthesis and of the motions its author asked for; no limit of what is safe.
 *
 * @example
 * const cup = { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(20) } as const;
 * const line = { anteversion: 'radiographic', inclination: 'not-added', stemWeight: 0.7, sum: degrees(37.3) } as const;
 * versionBesideLine({ cup, stemAnteversion: degrees(15) }, line)
 * //=> -6.8 (degrees)
 */
export function versionBesideLine(hip: CupAndStem, line: VersionLine): Degrees {
  return degrees(authorCombinedVersion(hip, line) - line.sum);
}

/**
 * The cup on a published line, for a stem whose version is fixed and an inclination that is kept.
 *
 * Frame: as `authorCombinedVersion`; out, a radiographic cup.
 * Units: degrees in, degrees out.
 * Domain: a line that adds inclination takes it in its own definition only, RangeError otherwise, and where the line
 * asks for an anteversion no cup has. `none` where inclination and anteversion fit no cup together, as
 * `toRadiographic`.
 * Method: anteversion = sum - stemWeight × stem (- inclination, where it is added), in the line's definition; then
 * `toRadiographic` with the inclination.
 * Source: the line is an input; the mixed conversion is ours.
 * Checked: published figures of four lines and a way back to 1e-9 degrees in
 * tests/biomechanics/orientation/author-combined-version.test.ts.
 * Limits: as `versionBesideLine`; valid at the inclinations its author looked at.
 *
 * @example
 * const line = { anteversion: 'anatomic', inclination: 'radiographic', stemWeight: 0.77, sum: degrees(84.3) } as const;
 * const inclination = { definition: 'radiographic', value: degrees(40) } as const;
 * cupOnVersionLine({ inclination, stemAnteversion: degrees(20) }, line)
 * //=> kind 'orientation', inclination 40, anteversion 19.54 (degrees, rounded)
 */
export function cupOnVersionLine(
  {
    inclination,
    stemAnteversion,
  }: { readonly inclination: StatedCupAngle; readonly stemAnteversion: Degrees },
  line: VersionLine,
): RadiographicOutcome {
  if (line.inclination !== 'not-added' && line.inclination !== inclination.definition) {
    throw new RangeError(`the line adds ${line.inclination} inclination, got ${inclination.definition}`);
  }
  const added = line.inclination === 'not-added' ? 0 : inclination.value;
  const value = degrees(line.sum - line.stemWeight * stemAnteversion - added);
  return toRadiographic({ inclination, anteversion: { definition: line.anteversion, value } });
}
