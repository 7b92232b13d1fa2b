import type { Condition, Rule } from './types.js';

/** The facts and computations a condition asks about, in the order met. */
export function conditionFacts(condition: Condition): readonly string[] {
  if (condition.kind === 'leaf') return [condition.fact];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(conditionFacts);
}

/** Every condition of a rule: where it applies, when it fires, which of its findings speaks, on which its words depend. */
export function conditionsOf({ appliesWhen, when, findings, named }: Rule): readonly Condition[] {
  return [appliesWhen, when, ...findings.flatMap(({ where }) => where ?? []), ...named.values()];
}

/** Every parameter a condition compares with. */
export function conditionLimits(condition: Condition): readonly string[] {
  if (condition.kind === 'leaf')
    return condition.limit.parameter === undefined ? [] : [condition.limit.parameter];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(conditionLimits);
}
