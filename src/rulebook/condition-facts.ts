import type { Condition } from './types.js';

/** The facts and computations a condition asks about, in the order met. */
export function conditionFacts(condition: Condition): readonly string[] {
  if (condition.kind === 'leaf') return [condition.fact];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(conditionFacts);
}
