import { buildRulebook } from '../rulebook/build.js';
import { formatIssue } from '../rulebook/pack.js';
import type { Rulebook } from '../rulebook/types.js';
import { readPack } from './read-pack.js';

/** Reads and checks the rulebook below a folder. Throws with every fault listed: a service never runs on half a rulebook. */
export function loadRulebook(root: string, computations: readonly string[]): Rulebook {
  const result = buildRulebook(readPack(root), computations);
  if (result.ok) return result.rulebook;
  throw new Error(`the rulebook in ${root} has faults:\n${result.issues.map(formatIssue).join('\n')}`);
}
