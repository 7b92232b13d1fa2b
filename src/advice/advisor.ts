import { COMPUTATIONS } from '../engine/computations.js';
import type { ComputationTable } from '../engine/computation.js';
import type { Decide } from '../engine/decide.js';
import { asDecide, compileDecide } from '../engine/compiled-decide.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Advisor } from './advise.js';

/**
 * An advisor over one rulebook: its compiled rules decide unless another does, and every computation is at hand. What
 * they decide is held against json-rules-engine by `agreesWithReference` before a service answers with them.
 */
export function newAdvisor(
  rulebook: Rulebook,
  computations: ComputationTable = COMPUTATIONS,
  decide: Decide = asDecide(compileDecide(rulebook.rules)),
): Advisor {
  return { rulebook, decide, computations };
}

/** The ids of everything the engine can compute: a rulebook must describe each. */
export const COMPUTATION_IDS: readonly string[] = Object.keys(COMPUTATIONS);
