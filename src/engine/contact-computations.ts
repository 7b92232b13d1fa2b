import { degrees, millimetres } from '../base/units.js';
import { neckAxis } from '../biomechanics/motion/pose.js';
import type { StemOrientation } from '../biomechanics/motion/pose.js';
import { cupAxis } from '../biomechanics/orientation/cup-orientation.js';
import type { CupOrientation } from '../biomechanics/orientation/cup-orientation.js';
import { neckInLiner } from '../biomechanics/range/half-oscillation.js';
import { headNeckRatio } from '../biomechanics/range/head-neck.js';
import type { Liner } from '../biomechanics/range/liner.js';
import { marginLoss } from '../biomechanics/range/margin-loss.js';
import type { Compared, MarginLoss } from '../biomechanics/range/margin-loss.js';
import type { Neck } from '../biomechanics/range/neck.js';
import {
  prostheticMargin,
  readyHip,
  worstProstheticMargin,
} from '../biomechanics/range/prosthetic-margin.js';
import type { ReadyHip } from '../biomechanics/range/prosthetic-margin.js';
import { need, parameter } from './computation.js';
import type { ComputationInputs, ComputationOutput, ComputationTable } from './computation.js';
import { cupOf, linerOf, neckOf, openingOf, stemOf } from './recorded-geometry.js';

/** What neck and rim leave, with the skirt, lip, turned face, chamfer and opening on record. */
export const CONTACT_COMPUTATIONS: ComputationTable = {
  'head-neck-ratio': (inputs) => {
    const neck = neckOf(inputs);
    if (!neck) return undefined;
    const head = millimetres(need(inputs, 'effective-head-diameter'));
    return { value: headNeckRatio(head, millimetres(neckAtRim(neck, head))) };
  },
  'oscillation-angle': (inputs) => {
    const [liner, neck] = [linerOf(inputs), neckOf(inputs)];
    return liner && neck && { value: leastOscillation(liner, neck) };
  },
  'impingement-margin': (inputs) => {
    const hip = plannedHip(inputs);
    if (!hip) return undefined;
    const { margin, motion } = worstProstheticMargin(hip, inputs.motions);
    return { value: margin, motion };
  },
  'impingement-margin-loss': (inputs) => {
    const most = mostLost(inputs);
    return most && { value: most.loss, motion: most.pose.name };
  },
  'impingement-margin-at-loss': (inputs) => marginAtLoss(inputs, plannedHip(inputs)),
  'reference-margin-at-loss': (inputs) => marginAtLoss(inputs, referenceHip(inputs)),
  'contact-at-loss': (inputs) => {
    const most = mostLost(inputs);
    if (most?.contactAzimuth === undefined) return undefined;
    return { value: most.contactAzimuth, motion: most.pose.name };
  },
};

/** Diameter of what the rim meets: the skirt where it is the thicker and reaches as far. */
function neckAtRim({ diameter, skirt }: Neck, head: number): number {
  const reaches = skirt !== undefined && Math.hypot(skirt.length, skirt.diameter / 2) >= head / 2;
  return reaches ? Math.max(diameter, skirt.diameter) : diameter;
}

/** The full angle in the plane through the axis that has the least: a lip of half the rim or more meets it on both sides. */
function leastOscillation(liner: Liner, neck: Neck): number {
  const { evenHalf, leastHalf } = neckInLiner(liner, neck);
  if (evenHalf !== undefined) return 2 * evenHalf;
  if ((liner.elevation?.arc ?? 0) >= 180) return 2 * leastHalf;
  return leastHalf + neckInLiner(withoutLip(liner), neck).leastHalf;
}

function withoutLip({ bore, centerOffset, wall, opening, chamfer }: Liner): Liner {
  return { bore, centerOffset, wall, opening, ...(chamfer && { chamfer }) };
}

function withoutTurn({ bore, centerOffset, wall, opening, chamfer, elevation }: Liner): Liner {
  return {
    bore,
    centerOffset,
    wall,
    opening,
    ...(chamfer && { chamfer }),
    ...(elevation && { elevation }),
  };
}

function plannedHip(inputs: ComputationInputs): ReadyHip | undefined {
  const [liner, neck, stem] = [linerOf(inputs), neckOf(inputs), stemOf(inputs)];
  if (!liner || !neck || !stem || !openingOf(inputs)) return undefined;
  return readyHip({ cup: cupOf(inputs), liner, stem, neck });
}

/** The same head, neck and liner, its face not turned, as the reference cup and stem would stand. */
function referenceHip(inputs: ComputationInputs): ReadyHip | undefined {
  const [liner, neck, stem] = [linerOf(inputs), neckOf(inputs), referenceStem(inputs)];
  if (!liner || !neck || !stem) return undefined;
  return readyHip({ cup: referenceCup(inputs), liner: withoutTurn(liner), stem, neck });
}

function referenceCup(inputs: ComputationInputs): CupOrientation<'radiographic'> {
  return {
    definition: 'radiographic',
    inclination: degrees(parameter(inputs, 'reference-inclination')),
    anteversion: degrees(parameter(inputs, 'reference-anteversion')),
  };
}

function referenceStem(inputs: ComputationInputs): StemOrientation | undefined {
  return stemOf(inputs, parameter(inputs, 'reference-stem-anteversion'));
}

function mostLost(inputs: ComputationInputs): MarginLoss | undefined {
  const compared = (inputs.values['rim-elevation'] ?? 0) === 0 ? byAxes(inputs) : byWholeHips(inputs);
  return compared && marginLoss(compared, inputs.motions);
}

/** Without a lip head, neck and rim cancel: they are not asked for. */
function byAxes(inputs: ComputationInputs): Compared | undefined {
  const [opening, stem, reference] = [openingOf(inputs), stemOf(inputs), referenceStem(inputs)];
  if (!opening || !stem || !reference) return undefined;
  return {
    kind: 'same-even-rim',
    plan: { opening, neckAxis: neckAxis(stem) },
    reference: { opening: cupAxis(referenceCup(inputs)), neckAxis: neckAxis(reference) },
  };
}

function byWholeHips(inputs: ComputationInputs): Compared | undefined {
  const [plan, reference] = [plannedHip(inputs), referenceHip(inputs)];
  return plan && reference && { kind: 'any-rim', plan, reference };
}

function marginAtLoss(inputs: ComputationInputs, hip: ReadyHip | undefined): ComputationOutput | undefined {
  const most = hip && mostLost(inputs);
  if (!most) return undefined;
  return { value: prostheticMargin(hip, most.pose).margin, motion: most.pose.name };
}
