import { millimetres } from '../base/units.js';
import { cupOrientationFromAxis } from '../biomechanics/orientation/cup-orientation.js';
import { linerShift } from '../biomechanics/tension/liner-shift.js';
import { need } from './computation.js';
import type { ComputationInputs, ComputationOutput, ComputationTable } from './computation.js';
import { cupOf, openingOf } from './recorded-geometry.js';

/** Where the face of a liner really points, and where a lateralized one moves the center. */
export const LINER_COMPUTATIONS: ComputationTable = {
  'liner-face-inclination': (inputs) => faceAngle(inputs, 'inclination'),
  'liner-face-anteversion': (inputs) => faceAngle(inputs, 'anteversion'),
  'liner-shift-lateral': (inputs) => ({ value: shiftOf(inputs)[2] }),
  'liner-shift-distal': (inputs) => ({ value: 0 - shiftOf(inputs)[1] }),
  'liner-shift-anterior': (inputs) => ({ value: shiftOf(inputs)[0] }),
};

function faceAngle(
  inputs: ComputationInputs,
  angle: 'inclination' | 'anteversion',
): ComputationOutput | undefined {
  const opening = openingOf(inputs);
  return opening && { value: cupOrientationFromAxis(opening, 'radiographic')[angle] };
}

function shiftOf(inputs: ComputationInputs): ReturnType<typeof linerShift> {
  return linerShift({
    lateralization: millimetres(need(inputs, 'liner-lateralization')),
    cup: cupOf(inputs),
  });
}
