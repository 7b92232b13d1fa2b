import { degrees, millimetres } from '../base/units.js';
import {
  changedStance,
  staysALever,
  type ArmReadings,
  type LeverChange,
  type StanceForceRange,
} from '../biomechanics/force/hip-force-change.js';
import { singleLegStance, type StanceLever } from '../biomechanics/force/hip-force.js';
import { linerShift } from '../biomechanics/tension/liner-shift.js';
import { parameter } from './computation.js';
import type { ComputationInputs, ComputationTable } from './computation.js';
import { addedLiner } from './recorded-geometry.js';

type Force = keyof StanceForceRange;
type End = 'low' | 'high';

/**
 * Muscle and joint force of a textbook lever after the changes of a plan, in body weights, and how far they lie from those
 * of the lever unchanged, in percent. Published readings of the muscle's arm differ, so each has two ends.
 */
export const FORCE_COMPUTATIONS: ComputationTable = {
  'hip-contact-force': (inputs) => force('contact', 'low', inputs),
  'hip-contact-force-high': (inputs) => force('contact', 'high', inputs),
  'abductor-force': (inputs) => force('abductor', 'low', inputs),
  'abductor-force-high': (inputs) => force('abductor', 'high', inputs),
  'hip-contact-force-change': (inputs) => change('contact', 'low', inputs),
  'hip-contact-force-change-high': (inputs) => change('contact', 'high', inputs),
  'abductor-force-change': (inputs) => change('abductor', 'low', inputs),
  'abductor-force-change-high': (inputs) => change('abductor', 'high', inputs),
};

function force(kind: Force, end: End, inputs: ComputationInputs): { readonly value: number } | undefined {
  const after = stanceAfter(inputs);
  return after && { value: after[kind][end] };
}

function change(kind: Force, end: End, inputs: ComputationInputs): { readonly value: number } | undefined {
  const after = stanceAfter(inputs);
  // In whole percent: readings of the arm differ by more than that.
  return (
    after && { value: Math.round(100 * (after[kind][end] / singleLegStance(leverOf(inputs))[kind] - 1)) }
  );
}

function stanceAfter(inputs: ComputationInputs): StanceForceRange | undefined {
  const leverChange = leverChangeOf(inputs);
  if (!leverChange) return undefined;
  const [lever, readings] = [leverOf(inputs), readingsOf(inputs)];
  return staysALever(lever, leverChange, readings) ? changedStance(lever, leverChange, readings) : undefined;
}

function leverOf(inputs: ComputationInputs): StanceLever {
  return {
    partialWeight: parameter(inputs, 'partial-weight'),
    weightArm: millimetres(parameter(inputs, 'weight-arm')),
    abductorArm: millimetres(parameter(inputs, 'abductor-arm')),
    abductorAngle: degrees(parameter(inputs, 'abductor-angle')),
  };
}

function readingsOf(inputs: ComputationInputs): ArmReadings {
  return {
    medializationShare: {
      low: parameter(inputs, 'medialization-share-low'),
      high: parameter(inputs, 'medialization-share-high'),
    },
    percentPerMmOffset: parameter(inputs, 'percent-per-mm-offset'),
  };
}

/** The femur goes where the center goes. An advanced trochanter is not told: lateral and distal do not do the same. */
function leverChangeOf(inputs: ComputationInputs): LeverChange | undefined {
  const { values } = inputs;
  if ((values['trochanter-advancement'] ?? 0) !== 0) return undefined;
  const liner = addedLiner(inputs);
  const medial = (values['hip-center-medialization'] ?? 0) - (liner ? linerShift(liner)[2] : 0);
  return {
    centerMedialization: millimetres(medial),
    globalOffset: millimetres((values['femoral-offset-change'] ?? 0) - medial),
    trochanter: { lateral: millimetres(0), distal: millimetres(0) },
    lean: millimetres(0),
  };
}
