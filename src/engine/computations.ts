import { degrees, millimetres } from '../base/units.js';
import { combinedAnteversion } from '../biomechanics/orientation/combined-anteversion.js';
import { cupAxis } from '../biomechanics/orientation/cup-orientation.js';
import type { CupOrientation } from '../biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../biomechanics/orientation/functional-cup.js';
import { headNeckRatio, oscillationAngle } from '../biomechanics/range/head-neck.js';
import { worstImpingementMargin } from '../biomechanics/range/impingement-margin.js';
import { jumpDistance } from '../biomechanics/stability/jump-distance.js';
import { neckAxis } from '../biomechanics/motion/pose.js';
import type { NamedPose } from '../biomechanics/motion/pose.js';
import {
  projectedGlobalOffsetDifference,
  projectedLegLengthDiscrepancy,
} from '../biomechanics/tension/projected-differences.js';
import { pelvicIncidenceLordosisMismatch } from '../biomechanics/spine/spinopelvic.js';

/** Exact inputs of a computation by fact id, and the motion set where it has one. */
export interface ComputationInputs {
  readonly values: Readonly<Record<string, number>>;
  readonly motions: readonly NamedPose[];
}

export interface ComputationOutput {
  readonly value: number;
  /** The motion of the set that decided, for a margin. */
  readonly motion?: string;
}

/** A computation of `biomechanics` under the id by which rules know it. */
export type Computation = (inputs: ComputationInputs) => ComputationOutput;

export type ComputationTable = Readonly<Record<string, Computation>>;

/** Every computation the engine offers. Units and inputs are declared in `rules/computations/`. */
export const COMPUTATIONS: ComputationTable = {
  'head-neck-ratio': (inputs) => ({
    value: headNeckRatio(
      millimetres(need(inputs, 'head-diameter')),
      millimetres(need(inputs, 'neck-diameter')),
    ),
  }),
  'oscillation-angle': (inputs) => ({ value: oscillation(inputs, 'head-diameter') }),
  'jump-distance': (inputs) => ({
    value: jumpDistance({
      head: millimetres(need(inputs, 'effective-head-diameter')),
      radiographicInclination: degrees(need(inputs, 'cup-inclination')),
      centerOffset: millimetres(need(inputs, 'head-center-offset')),
    }),
  }),
  'impingement-margin': (inputs) => {
    const geometry = {
      cupAxis: cupAxis({
        definition: 'radiographic',
        inclination: degrees(need(inputs, 'cup-inclination')),
        anteversion: degrees(need(inputs, 'cup-anteversion')),
      }),
      neckAxis: neckAxis({
        anteversion: degrees(need(inputs, 'stem-anteversion')),
        neckShaftAngle: degrees(need(inputs, 'neck-shaft-angle')),
      }),
      oscillationAngle: degrees(oscillation(inputs, 'head-diameter')),
    };
    const { margin, motion } = worstImpingementMargin(geometry, inputs.motions);
    return { value: margin, motion };
  },
  // The sum is the same whichever definition the cup's angle is in; a rule that means another replaces that input.
  'combined-anteversion': (inputs) => ({
    value: combinedAnteversion(
      { definition: 'radiographic', anteversion: degrees(need(inputs, 'cup-anteversion')) },
      degrees(need(inputs, 'stem-anteversion-condylar')),
    ).sum,
  }),
  'functional-cup-inclination': (inputs) => ({ value: functionalCup(inputs).inclination }),
  'functional-cup-anteversion': (inputs) => ({ value: functionalCup(inputs).anteversion }),
  // Which of the pelvis's angles it is read from is settled where the fact is derived.
  'spinopelvic-mobility': (inputs) => ({ value: need(inputs, 'sacral-slope-change') }),
  'pelvic-incidence-lordosis-mismatch': (inputs) => ({
    value: pelvicIncidenceLordosisMismatch({
      pelvicIncidence: degrees(need(inputs, 'pelvic-incidence')),
      lumbarLordosis: degrees(need(inputs, 'lumbar-lordosis-standing')),
    }),
  }),
  'projected-leg-length-discrepancy': (inputs) => ({
    value: projectedLegLengthDiscrepancy({
      native: millimetres(need(inputs, 'leg-length-discrepancy')),
      change: millimetres(need(inputs, 'leg-length-change')),
    }),
  }),
  'projected-global-offset-difference': (inputs) => ({
    value: projectedGlobalOffsetDifference({
      native: millimetres(need(inputs, 'global-offset-difference')),
      femoralOffsetChange: millimetres(need(inputs, 'femoral-offset-change')),
      centerMedialization: millimetres(need(inputs, 'hip-center-medialization')),
    }),
  }),
};

function functionalCup(inputs: ComputationInputs): CupOrientation<'radiographic'> {
  const cup = {
    definition: 'radiographic' as const,
    inclination: degrees(need(inputs, 'cup-inclination')),
    anteversion: degrees(need(inputs, 'cup-anteversion')),
  };
  return functionalCupOrientation(cup, {
    referenceTilt: degrees(need(inputs, 'film-tilt')),
    postureTilt: degrees(need(inputs, 'app-tilt-standing')),
  });
}

function oscillation(inputs: ComputationInputs, head: string): number {
  return oscillationAngle({
    head: millimetres(need(inputs, head)),
    neck: millimetres(need(inputs, 'neck-diameter')),
    centerOffset: millimetres(need(inputs, 'head-center-offset')),
  });
}

function need(inputs: ComputationInputs, id: string): number {
  const value = inputs.values[id];
  if (value === undefined) throw new TypeError(`computation without its input ${id}`);
  return value;
}
