import type { NamedPose } from '../biomechanics/motion/pose.js';

/** Exact inputs of a computation by fact id, the rulebook's numbers it runs on, and the motion set where it has one. */
export interface ComputationInputs {
  readonly values: Readonly<Record<string, number>>;
  readonly parameters: Readonly<Record<string, number>>;
  readonly motions: readonly NamedPose[];
}

export interface ComputationOutput {
  readonly value: number;
  /** The motion of the set that decided, for a margin. */
  readonly motion?: string;
}

/** A computation of `biomechanics` under the id by which rules know it; undefined where its inputs have no such number. */
export type Computation = (inputs: ComputationInputs) => ComputationOutput | undefined;

export type ComputationTable = Readonly<Record<string, Computation>>;

/** An input that the computation's file asks for. */
export function need(inputs: ComputationInputs, id: string): number {
  const value = inputs.values[id];
  if (value === undefined) throw new TypeError(`computation without its input ${id}`);
  return value;
}

/** A number that the computation's file takes from the rulebook. */
export function parameter(inputs: ComputationInputs, name: string): number {
  const value = inputs.parameters[name];
  if (value === undefined) throw new TypeError(`computation without its parameter ${name}`);
  return value;
}
