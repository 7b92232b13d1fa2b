import { degrees, millimetres } from '../base/units.js';
import type { StemOrientation } from '../biomechanics/motion/pose.js';
import { femoralOffsetChangeFromComponents, type NeckChange } from '../biomechanics/tension/neck-change.js';
import { legLengthChangeFromComponents } from '../biomechanics/tension/tension.js';
import { need } from './computation.js';
import type { ComputationInputs, ComputationTable } from './computation.js';
import { addedLiner, stemOf } from './recorded-geometry.js';

/**
 * Offset and length that the components of a plan change: what was stated counts, what was not is as it was. The stem's
 * version is no input: it turns the plane of the neck and changes neither the offset in it nor the length.
 */
export const TENSION_COMPUTATIONS: ComputationTable = {
  'femoral-offset-change-from-components': (inputs) => told(offsetChange(inputs)),
  'leg-length-change-from-components': (inputs) => told(lengthChange(inputs)),
  'femoral-offset-change-stated-difference': (inputs) =>
    apart(need(inputs, 'femoral-offset-change'), offsetChange(inputs)),
  'leg-length-change-stated-difference': (inputs) =>
    apart(need(inputs, 'leg-length-change'), lengthChange(inputs)),
};

function told(value: number | undefined): { readonly value: number } | undefined {
  return value === undefined ? undefined : { value };
}

function apart(stated: number, computed: number | undefined): { readonly value: number } | undefined {
  return told(computed === undefined ? undefined : Math.abs(stated - computed));
}

function offsetChange(inputs: ComputationInputs): number | undefined {
  const neck = neckOfPlan(inputs);
  return neck && femoralOffsetChangeFromComponents(neck);
}

function lengthChange(inputs: ComputationInputs): number | undefined {
  const neck = neckOfPlan(inputs);
  if (!neck) return undefined;
  const { values } = inputs;
  const liner = addedLiner(inputs);
  return legLengthChangeFromComponents({
    neck,
    stemSeating: millimetres(values['stem-seating-change'] ?? 0),
    ...(liner && { liner }),
    centerMedialization: millimetres(0),
    centerElevation: millimetres(values['hip-center-elevation'] ?? 0),
    trochanter: { lateral: millimetres(0), distal: millimetres(0) },
  });
}

function neckOfPlan(inputs: ComputationInputs): NeckChange | undefined {
  const before: StemOrientation | undefined = stemOf(inputs, 0);
  return (
    before && {
      before,
      lengthChange: millimetres(inputs.values['neck-length-change'] ?? 0),
      neckShaftAngleChange: degrees(0),
      stemVersionChange: degrees(0),
    }
  );
}
