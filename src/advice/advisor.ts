import { COMPUTATIONS } from '../engine/computations.js';
import type { ComputationTable } from '../engine/computations.js';
import { jsonRulesDecide } from '../engine/json-rules-decide.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Advisor } from './advise.js';

/** An advisor over one rulebook, with json-rules-engine deciding and every computation at hand. */
export function newAdvisor(rulebook: Rulebook, computations: ComputationTable = COMPUTATIONS): Advisor {
  return { rulebook, decide: jsonRulesDecide(rulebook.rules), computations };
}

/** The ids of everything the engine can compute: a rulebook must describe each. */
export const COMPUTATION_IDS: readonly string[] = Object.keys(COMPUTATIONS);
