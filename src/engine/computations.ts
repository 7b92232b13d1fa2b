import { degrees, millimetres } from '../base/units.js';
import { cupAxis } from '../biomechanics/cup-orientation.js';
import { headNeckRatio, oscillationAngle } from '../biomechanics/head-neck.js';
import { worstImpingementMargin } from '../biomechanics/impingement-margin.js';
import { jumpDistance } from '../biomechanics/jump-distance.js';
import { neckAxis } from '../biomechanics/pose.js';
import type { NamedPose } from '../biomechanics/pose.js';

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
};

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
