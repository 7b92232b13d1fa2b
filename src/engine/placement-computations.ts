import { degrees } from '../base/units.js';
import type { Degrees } from '../base/units.js';
import { placementTolerancesOfPlans } from '../biomechanics/placement/placement-tolerance-of-plans.js';
import type { Placement, PlacementScatter } from '../biomechanics/placement/placement-tolerance.js';
import { neckInLiner } from '../biomechanics/range/half-oscillation.js';
import { need, parameter } from './computation.js';
import type { ComputationInputs, ComputationTable } from './computation.js';
import { linerOf, neckOf, stemOf } from './recorded-geometry.js';

/**
 * Shares of simulated placements that reach the test positions, in percent. They are told of a rim that is the same all
 * round and not turned; the seed is one of the rulebook's numbers and stands among the inputs.
 */
export const PLACEMENT_COMPUTATIONS: ComputationTable = {
  'placement-tolerance': (inputs) => told(shareOf(planOf(inputs), inputs)),
  'placement-tolerance-of-reference': (inputs) => told(shareOf(referenceOf(inputs), inputs)),
  'placement-tolerance-loss': (inputs) => {
    const [reference, share] = [shareOf(referenceOf(inputs), inputs), shareOf(planOf(inputs), inputs)];
    return told(share === undefined || reference === undefined ? undefined : reference - share);
  },
};

/** In whole percent: what a sample of this size can tell apart, and no finer. */
function told(share: number | undefined): { readonly value: number } | undefined {
  return share === undefined ? undefined : { value: Math.round(100 * share) };
}

function planOf(inputs: ComputationInputs): Placement {
  return {
    inclination: degrees(need(inputs, 'cup-inclination')),
    anteversion: degrees(need(inputs, 'cup-anteversion')),
    stemAnteversion: degrees(need(inputs, 'stem-anteversion-modelled')),
  };
}

function referenceOf(inputs: ComputationInputs): Placement {
  return {
    inclination: degrees(parameter(inputs, 'reference-inclination')),
    anteversion: degrees(parameter(inputs, 'reference-anteversion')),
    stemAnteversion: degrees(parameter(inputs, 'reference-stem-anteversion')),
  };
}

/** Shares told lately: a card asks for one several times, and every hip with one head and neck for the same reference. */
const lately = new WeakMap<object, Map<string, number>>();
const MOST_KEPT = 500;

function shareOf(plan: Placement, inputs: ComputationInputs): number | undefined {
  const swing = evenSwing(inputs);
  if (swing === undefined || !stemOf(inputs, plan.stemAnteversion)) return undefined;
  const kept = lately.get(inputs.motions) ?? new Map<string, number>();
  const about = [swing, need(inputs, 'neck-shaft-angle'), parameter(inputs, 'seed')];
  const key = [
    ...about,
    plan.inclination,
    plan.anteversion,
    plan.stemAnteversion,
    ...Object.values(scatterOf(inputs)),
  ].join(' ');
  const known = kept.get(key) ?? simulatedShare(plan, swing, inputs);
  if (kept.size >= MOST_KEPT) kept.clear();
  lately.set(inputs.motions, kept.set(key, known));
  return known;
}

function scatterOf(inputs: ComputationInputs): PlacementScatter {
  return {
    inclination: degrees(parameter(inputs, 'scatter-inclination')),
    anteversion: degrees(parameter(inputs, 'scatter-anteversion')),
    stemAnteversion: degrees(parameter(inputs, 'scatter-stem-anteversion')),
  };
}

function simulatedShare(plan: Placement, oscillationAngle: Degrees, inputs: ComputationInputs): number {
  const [tolerance] = placementTolerancesOfPlans({
    plans: [plan],
    scatter: scatterOf(inputs),
    seed: parameter(inputs, 'seed'),
    neckShaftAngle: degrees(need(inputs, 'neck-shaft-angle')),
    oscillationAngle,
    poses: inputs.motions,
  });
  if (!tolerance) throw new TypeError('a plan without its share');
  return tolerance.share;
}

/** The oscillation angle of a neck in a rim that is the same all round; undefined for a lip, a turned face, or no swing. */
function evenSwing(inputs: ComputationInputs): Degrees | undefined {
  if (['rim-turn', 'rim-elevation'].some((id) => (inputs.values[id] ?? 0) !== 0)) return undefined;
  const [liner, neck] = [linerOf(inputs), neckOf(inputs)];
  const half = liner && neck && neckInLiner(liner, neck).evenHalf;
  return half === undefined || half === 0 ? undefined : degrees(2 * half);
}
