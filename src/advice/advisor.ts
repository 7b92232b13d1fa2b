import { COMPUTATIONS } from '../engine/computations.js';
import type { ComputationTable } from '../engine/computation.js';
import type { Decide } from '../engine/decide.js';
import { jsonRulesDecide } from '../engine/json-rules-decide.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Advisor } from './advise.js';

/** An advisor over one rulebook: json-rules-engine decides unless another does, and every computation is at hand. */
export function newAdvisor(
  rulebook: Rulebook,
  computations: ComputationTable = COMPUTATIONS,
  decide: Decide = jsonRulesDecide(rulebook.rules),
): Advisor {
  return { rulebook, decide, computations };
}

/** The ids of everything the engine can compute: a rulebook must describe each. */
export const COMPUTATION_IDS: readonly string[] = Object.keys(COMPUTATIONS);
