import { degrees } from '../../src/base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
} from '../../src/biomechanics/orientation/cup-orientation.js';
import { readMotionSets } from '../../src/biomechanics/motion/motion-set-reading.js';
import { optimalCupAnteversion } from '../../src/biomechanics/range/optimal-cup-anteversion.js';
import { fitLinear } from './least-squares.js';
import {
  OPERATIVE_2012,
  OSCILLATION_2001_FLEXION_120,
  OSCILLATION_2006,
  OSCILLATION_2006_AS_QUOTED,
  WIDMER_2004,
  type PublishedMotionSet,
} from './published-motion-sets.js';

/** Cup anteversion = intercept + slope × stem version, in degrees. */
export interface Line {
  readonly slope: number;
  readonly intercept: number;
}

/** A published line with the one our optimum gives under the same targets and definitions. */
export interface LineComparison {
  readonly paper: string;
  readonly published: Line;
  readonly ours: Line;
  /** Our optimum minus the published line at the stem version where they are furthest apart, in degrees. */
  readonly largestDeviation: number;
  /** That stem version, and the cup anteversion of either line there. */
  readonly furthestApart: { readonly stem: number; readonly published: number; readonly ours: number };
  readonly note: string;
}

/** Neck-shaft angle of all four papers. */
const NECK_SHAFT_ANGLE = 135;

/** Stem versions over which the lines are compared. */
export const STEM_VERSIONS: readonly number[] = [0, 5, 10, 15, 20, 25, 30];

export interface AngleReading {
  /** The inclination that is held, in its definition. */
  readonly held: CupDefinition;
  readonly inclination: number;
  /** The definition the anteversion is stated in. */
  readonly stated: CupDefinition;
}

/** Our optimum for one stem: the anteversion in the definition stated, and the oscillation angle it needs. */
export function optimumFor(
  published: PublishedMotionSet,
  { held, inclination, stated }: AngleReading,
  stem: number,
): { readonly anteversion: number; readonly oscillationAngle: number } {
  const { poses } = readMotionSets([published.set], { zeros: published.zeros });
  const { cup, oscillationAngle } = optimalCupAnteversion({
    definition: held,
    inclination: degrees(inclination),
    stem: { anteversion: degrees(stem), neckShaftAngle: degrees(NECK_SHAFT_ANGLE) },
    poses,
  });
  const { anteversion } = cupOrientationFromAxis(cupAxis(cup), stated);
  return { anteversion, oscillationAngle };
}

interface Comparison extends AngleReading {
  readonly paper: string;
  readonly targets: PublishedMotionSet;
  readonly published: Line;
  readonly note: string;
}

const OPERATIVE_40 = { held: 'operative', inclination: 40, stated: 'operative' } as const;
/** Cup abduction 45 on a film with anatomical anteversion, as the paper's angles are quoted. */
const FILM_45 = { held: 'radiographic', inclination: 45, stated: 'anatomic' } as const;
const ANATOMIC_45 = { held: 'anatomic', inclination: 45, stated: 'anatomic' } as const;
/** 84.3 - inclination - 0.77 × stem. */
const LINE_84 = { slope: -0.77, intercept: 84.3 - 45 };

const CRITERION =
  'The abstract does not say by what criterion a combination is best; the middle of a zone is another point than ours.';

const COMPARISONS: readonly Comparison[] = [
  {
    paper: 'Widmer 2004',
    targets: WIDMER_2004,
    held: 'radiographic',
    inclination: 42.5,
    stated: 'radiographic',
    published: { slope: -0.7, intercept: 37.3 },
    note: 'Known from a quotation only: its prosthesis, its criterion of the best and one inclination for 40 to 45 may differ from ours.',
  },
  {
    paper: 'oscillation model 2006, film abduction 45, flexion 110',
    targets: OSCILLATION_2006,
    ...FILM_45,
    published: LINE_84,
    note: CRITERION,
  },
  {
    paper: 'oscillation model 2006, film abduction 45, flexion 120',
    targets: OSCILLATION_2001_FLEXION_120,
    ...FILM_45,
    published: LINE_84,
    note: CRITERION,
  },
  {
    paper: 'oscillation model 2006, film abduction 45, targets as quoted in 2022',
    targets: OSCILLATION_2006_AS_QUOTED,
    ...FILM_45,
    published: LINE_84,
    note: 'With these targets the line fits worse than with those of the abstract, so they are hardly the ones it was drawn for.',
  },
  {
    paper: 'oscillation model 2006, anatomic inclination 45, flexion 110',
    targets: OSCILLATION_2006,
    ...ANATOMIC_45,
    published: LINE_84,
    note: 'Far off and not straight: the abduction of the paper is hardly an anatomic inclination.',
  },
  {
    paper: 'oscillation model 2006, anatomic inclination 45, flexion 120',
    targets: OSCILLATION_2001_FLEXION_120,
    ...ANATOMIC_45,
    published: LINE_84,
    note: 'Far off and not straight: the abduction of the paper is hardly an anatomic inclination.',
  },
  {
    paper: 'parametric model 2012, normal targets',
    targets: OPERATIVE_2012.normal,
    ...OPERATIVE_40,
    published: { slope: -0.728, intercept: 40.916 },
    note: 'Targets and inclination are guessed; the abstract gives neither.',
  },
  {
    paper: 'parametric model 2012, severe targets',
    targets: OPERATIVE_2012.severe,
    ...OPERATIVE_40,
    published: { slope: -0.7384, intercept: 46.456 },
    note: 'Targets and inclination are guessed; the abstract gives neither.',
  },
];

function lineOf(values: readonly number[]): Line {
  const rows = STEM_VERSIONS.map((stem, index) => ({ x: [1, stem], y: values[index] ?? Number.NaN }));
  const [intercept = Number.NaN, slope = Number.NaN] = fitLinear(rows).coefficients;
  return { slope, intercept };
}

/** Published lines of cup anteversion over stem version beside ours, as a table to print. */
export function publishedAnteversionLines(): readonly LineComparison[] {
  return COMPARISONS.map(({ paper, targets, published, note, ...reading }) => {
    const optima = STEM_VERSIONS.map((stem) => optimumFor(targets, reading, stem).anteversion);
    const pairs = optima.map((ours, index) => {
      const stem = STEM_VERSIONS[index] ?? Number.NaN;
      return { stem, published: published.intercept + published.slope * stem, ours };
    });
    const apart = (pair: (typeof pairs)[number]): number => pair.ours - pair.published;
    const furthestApart = pairs.reduce((most, one) =>
      Math.abs(apart(one)) > Math.abs(apart(most)) ? one : most,
    );
    const largestDeviation = apart(furthestApart);
    return { paper, published, ours: lineOf(optima), largestDeviation, furthestApart, note };
  });
}
