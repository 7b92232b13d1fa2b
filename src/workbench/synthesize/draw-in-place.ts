import { drawWithin, toStep } from './sampling.js';
import type { Limits, Sampling } from './sampling.js';
import type { InPlace, Operation, OtherHip, Person } from './truth.js';

/** The youngest at which anybody here got a hip. */
const YOUNGEST_AT_IMPLANTATION = 16;
const SHORTEST_YEARS = 0.5;
const FEWEST_OF_MANY = 6;
const MOST_OF_MANY = 9;

/** The replacement that is to be revised; none before a primary replacement. */
export function drawInPlace(
  sampling: Sampling,
  person: Person,
  { kind, indication }: Operation,
): InPlace | undefined {
  if (kind !== 'revision') return undefined;
  const { draws, population } = sampling;
  const { inPlace, limits } = population;
  const isUnstable = indication === 'instability';
  const inclination = isUnstable ? inPlace.inclinationWhenUnstable : inPlace.inclination;
  const anteversion = isUnstable ? inPlace.anteversionWhenUnstable : inPlace.anteversion;
  const years = drawYears(sampling, 'in-place', person);
  const isConventional = draws.isChosen('in-place.liner', inPlace.conventionalPolyethylene.value);
  const wear = isConventional ? inPlace.conventionalWear : inPlace.crosslinkedWear;
  const rate = drawWithin(sampling, 'in-place.wear', wear, limits['head-penetration-rate'], 0.01);
  return {
    'cup-inclination': drawWithin(sampling, 'in-place.inclination', inclination, limits['cup-inclination']),
    'cup-anteversion': drawWithin(sampling, 'in-place.anteversion', anteversion, limits['cup-anteversion']),
    'stem-anteversion': drawWithin(
      sampling,
      'in-place.stem',
      inPlace.stemAnteversion,
      limits['stem-anteversion'],
    ),
    'head-diameter': Number(draws.choice('in-place.head', inPlace.heads.shares)),
    'neck-diameter': Number(draws.choice('in-place.neck', population.plan.neckDiameters.shares)),
    'leg-length-discrepancy': drawWithin(
      sampling,
      'in-place.length',
      inPlace.lengthDifference,
      limits['leg-length-discrepancy'],
    ),
    'bearing-couple': `metal-on-${isConventional ? 'conventional' : 'crosslinked'}-polyethylene`,
    'head-penetration': Math.min(toStep(rate * years, 0.1), limits['head-penetration'][1]),
    'head-penetration-rate': rate,
    'dislocation-count': isUnstable ? drawDislocations(sampling) : 0,
    ...(isUnstable && {
      'dislocation-direction': draws.choice(
        'in-place.direction',
        population.operation.dislocationDirection.shares,
      ),
    }),
    yearsInPlace: years,
  };
}

/** One, two to five, or more: within each group every number alike. */
function drawDislocations({ draws, population: { operation } }: Sampling): number {
  const chance = draws.uniform('in-place.dislocations');
  if (chance < operation.moreThanFiveDislocations.value)
    return draws.integer('in-place.many-dislocations', FEWEST_OF_MANY, MOST_OF_MANY);
  if (chance < operation.moreThanOneDislocation.value)
    return draws.integer('in-place.some-dislocations', 2, FEWEST_OF_MANY - 1);
  return 1;
}

/** The replacement of the other hip, where there is one. */
export function drawOtherHip(sampling: Sampling, person: Person): OtherHip | undefined {
  const { draws, population } = sampling;
  const { inPlace, operation, limits } = population;
  if (!draws.isChosen('other-hip.replaced', operation.otherHipReplaced.value)) return undefined;
  return {
    yearsInPlace: drawYears(sampling, 'other-hip', person),
    'cup-inclination': drawWithin(
      sampling,
      'other-hip.inclination',
      inPlace.inclination,
      limits['cup-inclination'],
    ),
    'cup-anteversion': drawWithin(
      sampling,
      'other-hip.anteversion',
      inPlace.anteversion,
      limits['cup-anteversion'],
    ),
    'head-diameter': Number(draws.choice('other-hip.head', inPlace.heads.shares)),
  };
}

function drawYears(sampling: Sampling, name: string, { age }: Person): number {
  const possible: Limits = [SHORTEST_YEARS, Math.max(SHORTEST_YEARS, age - YOUNGEST_AT_IMPLANTATION)];
  return drawWithin(sampling, `${name}.years`, sampling.population.operation.yearsInPlace, possible, 0.1);
}
