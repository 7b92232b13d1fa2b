import type { Condition } from '../rulebook/types.js';
import { compileCondition } from './compiled-decide.js';
import type { CompiledCondition } from './compiled-decide.js';

/** Conditions belong to the rulebook and never change: each is compiled once. */
const compiledOf = new WeakMap<Condition, CompiledCondition>();

/** A named condition, or the `where` of a finding, compiled. */
export function compiled(condition: Condition): CompiledCondition {
  const known = compiledOf.get(condition);
  if (known) return known;
  const made = compileCondition(condition);
  compiledOf.set(condition, made);
  return made;
}
