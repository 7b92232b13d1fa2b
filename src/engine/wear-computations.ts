import { degrees, millimetres } from '../base/units.js';
import { arcLostToWear } from '../biomechanics/wear/arc-lost-to-wear.js';
import { headPenetration } from '../biomechanics/wear/head-penetration.js';
import { wearVolumeCylinder } from '../biomechanics/wear/wear-volume.js';
import { need, parameter } from './computation.js';
import type { ComputationInputs, ComputationOutput, ComputationTable } from './computation.js';

/**
 * How far a head has sunk into its liner, what it has worn away and taken from the arc. In which direction it sank is not
 * on record: volume and arc are told as for one that sank along the cup's axis, and say that no other gives more.
 */
export const WEAR_COMPUTATIONS: ComputationTable = {
  'head-penetration-total': totalPenetration,
  'wear-volume': wornVolume,
  'arc-lost-to-wear': arcLost,
};

/** Where two surfaces wear, the penetration on a film is nobody's. */
function hasTwoBearings({ values }: ComputationInputs): boolean {
  return values['mobile-liner-diameter'] !== undefined;
}

/** What a rate read on a film comes to, bedding-in and all; none while it still beds in. */
function totalPenetration(inputs: ComputationInputs): ComputationOutput | undefined {
  const years = need(inputs, 'liner-years-in-place');
  const beddingInYears = parameter(inputs, 'bedding-in-years');
  if (years < beddingInYears) return undefined;
  const kind = need(inputs, 'liner-crosslinked') === 1 ? 'crosslinked' : 'conventional';
  const course = {
    beddingIn: millimetres(parameter(inputs, `bedding-in-${kind}`)),
    beddingInYears,
    rateMmPerYear: need(inputs, 'head-penetration-rate'),
  };
  return { value: headPenetration(course, years) };
}

/** In whole cubic millimetres: penetration itself is read to tenths of a millimetre. */
function wornVolume(inputs: ComputationInputs): ComputationOutput | undefined {
  if (hasTwoBearings(inputs)) return undefined;
  const head = millimetres(need(inputs, 'effective-head-diameter'));
  return { value: Math.round(wearVolumeCylinder(head, millimetres(need(inputs, 'liner-penetration')))) };
}

function arcLost(inputs: ComputationInputs): ComputationOutput | undefined {
  const head = need(inputs, 'effective-head-diameter');
  const neck = need(inputs, 'neck-diameter');
  const centerOffset = need(inputs, 'head-center-offset');
  const penetration = need(inputs, 'liner-penetration');
  const isInside = [centerOffset, centerOffset - penetration].every((at) => Math.abs(at) < head / 2);
  if (hasTwoBearings(inputs) || neck >= head || !isInside) return undefined;
  return {
    value: arcLostToWear({
      head: millimetres(head),
      neck: millimetres(neck),
      centerOffset: millimetres(centerOffset),
      penetration: millimetres(penetration),
      angleToCupAxis: degrees(0),
    }),
  };
}
