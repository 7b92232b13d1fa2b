import { drawWithin, toStep } from './sampling.js';
import type { Sampling } from './sampling.js';
import type { Approach, Femur, InPlace, Operation, Person, Plan } from './truth.js';

/** What is planned. */
export interface PlanContext {
  readonly person: Person;
  readonly operation: Operation;
  readonly femur: Femur;
  readonly inPlace: InPlace | undefined;
}

export function drawPlan(sampling: Sampling, context: PlanContext): Plan {
  const { draws, population } = sampling;
  const isRetained =
    context.operation.kind === 'revision' &&
    draws.isChosen('plan.retained', population.operation.stemRetained.value);
  const approach = drawApproach(sampling);
  return {
    ...drawCup(sampling),
    ...drawBearing(sampling, context),
    ...(isRetained ? { 'component-retained': 'stem' as const } : drawStem(sampling, context.femur)),
    'surgical-approach': approach,
    ...(approach === 'posterior' && {
      'soft-tissue-repair': draws.choice('plan.repair', population.plan.repairs.shares),
    }),
    ...drawChanges(sampling, context),
    isOnSupineFilm: draws.isChosen('plan.supine-film', population.plan.onSupineFilm.value),
  };
}

function drawCup(sampling: Sampling): Pick<Plan, 'cup-inclination' | 'cup-anteversion' | 'isAsAchieved'> {
  const { draws, population } = sampling;
  const { plan, inPlace, limits } = population;
  const isAsAchieved = draws.isChosen('plan.as-achieved', plan.asAchieved.value);
  const { inclination, anteversion } = isAsAchieved ? inPlace : plan;
  return {
    'cup-inclination': drawWithin(sampling, 'plan.inclination', inclination, limits['cup-inclination']),
    'cup-anteversion': drawWithin(sampling, 'plan.anteversion', anteversion, limits['cup-anteversion']),
    isAsAchieved,
  };
}

/** A cup this much wider than the head leaves room for metal and liner; of a dual mobility, for metal and mobile liner. */
const ROOM_FOR_HEAD = 14;
const ROOM_FOR_MOBILE_LINER = 6;
const CUP_STEP = 2;
const INNER_HEAD = 28;
const SMALLEST_DUAL_CUP = 44;

type Bearing = Pick<
  Plan,
  | 'bearing-couple'
  | 'skirted-head'
  | 'liner-type'
  | 'liner-elevation-angle'
  | 'liner-elevation-position'
  | 'cup-outer-diameter'
  | 'head-diameter'
  | 'mobile-liner-diameter'
>;

function drawBearing(sampling: Sampling, { person, operation }: PlanContext): Bearing {
  const { draws, population } = sampling;
  const { plan, limits } = population;
  const cups = person.sex === 'female' ? plan.cupDiameterOfWomen : plan.cupDiameterOfMen;
  const cup = drawWithin(sampling, 'plan.cup-diameter', cups, limits['cup-outer-diameter'], CUP_STEP);
  const couple = draws.choice('plan.bearing', plan.bearings.shares);
  const isSkirted = draws.isChosen('plan.skirted', plan.skirted.value);
  const dual = operation.kind === 'revision' ? plan.dualMobilityAtRevision : plan.dualMobility;
  if (draws.isChosen('plan.dual-mobility', dual.value)) {
    const outer = Math.max(cup, SMALLEST_DUAL_CUP);
    return {
      // A mobile liner is of polyethylene.
      'bearing-couple': couple === 'ceramic-on-ceramic' ? 'ceramic-on-crosslinked-polyethylene' : couple,
      'skirted-head': isSkirted,
      'liner-type': 'dual-mobility',
      'cup-outer-diameter': outer,
      'head-diameter': INNER_HEAD,
      'mobile-liner-diameter': outer - ROOM_FOR_MOBILE_LINER,
    };
  }
  const head = Number(
    draws.isChosen('plan.large-head', plan.head36OrMore.value)
      ? draws.choice('plan.head', plan.largerHeads.shares)
      : draws.choice('plan.head', plan.smallerHeads.shares),
  );
  return {
    'bearing-couple': couple,
    'skirted-head': isSkirted,
    ...drawRim(sampling),
    'cup-outer-diameter': Math.max(cup, head + ROOM_FOR_HEAD),
    'head-diameter': head,
  };
}

function drawRim({ draws, population: { plan } }: Sampling) {
  if (!draws.isChosen('plan.elevated', plan.elevatedRim.value)) return { 'liner-type': 'neutral' as const };
  return {
    'liner-type': 'elevated-rim' as const,
    'liner-elevation-angle': plan.elevation.value,
    'liner-elevation-position': plan.elevationPosition.value,
  };
}

function drawStem({ draws, population: { plan } }: Sampling, { stemVersion }: Femur) {
  return {
    'neck-diameter': Number(draws.choice('plan.neck', plan.neckDiameters.shares)),
    'neck-shaft-angle': Number(draws.choice('plan.neck-shaft', plan.neckShaftAngles.shares)),
    'stem-anteversion': stemVersion,
  };
}

function drawApproach({ draws, population: { plan } }: Sampling): Approach {
  if (draws.isChosen('plan.anterior', plan.anteriorApproach.value)) return 'direct-anterior';
  if (draws.isChosen('plan.posterior', plan.posteriorOfOtherApproaches.value)) return 'posterior';
  return draws.isChosen('plan.anterolateral', plan.anterolateralOfLateral.value)
    ? 'anterolateral'
    : 'direct-lateral';
}

/** Length is planned towards equal legs; offset gives back what the center loses. */
function drawChanges(
  sampling: Sampling,
  { femur, inPlace }: PlanContext,
): Pick<Plan, 'leg-length-change' | 'femoral-offset-change' | 'hip-center-medialization'> {
  const { plan, limits } = sampling.population;
  const now = (inPlace ?? femur)['leg-length-discrepancy'];
  const [least, most] = limits['leg-length-change'];
  const aimed = drawWithin(sampling, 'plan.length', plan.lengthAimed, [now + least, now + most]);
  const medial = drawWithin(
    sampling,
    'plan.medialization',
    plan.medialization,
    limits['hip-center-medialization'],
  );
  const together = plan.offsetChangeWithMedialization.value;
  const law = {
    mean:
      plan.offsetChange.mean +
      (together * plan.offsetChange.sd * (medial - plan.medialization.mean)) / plan.medialization.sd,
    sd: plan.offsetChange.sd * Math.sqrt(1 - together ** 2),
  };
  return {
    'leg-length-change': toStep(aimed - now, 1),
    'femoral-offset-change': drawWithin(sampling, 'plan.offset', law, limits['femoral-offset-change']),
    'hip-center-medialization': medial,
  };
}
