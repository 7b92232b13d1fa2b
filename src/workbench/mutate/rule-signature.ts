import { compileDecide } from '../../engine/compiled-decide.js';
import type { FactMap } from '../../engine/decide.js';
import type { Condition, Rule } from '../../rulebook/types.js';

/**
 * Everything about a rule that its conditions decide, as one list: whether it applies, whether it fires, for each
 * finding whether its node and its `where` are so, and each condition its words depend on. Two rules with equal lists and findings tell the same.
 */
export type Signature = (facts: FactMap) => readonly string[];

export function signatureOf(rule: Rule): Signature {
  const { appliesWhen, when, findings, named } = rule;
  const conditions = [
    appliesWhen,
    when,
    ...findings.flatMap(({ node, where }) => [
      ...(node === undefined ? [] : [conditionNamed(when, node) ?? missingNode(when)]),
      ...(where ? [where] : []),
    ]),
    ...named.values(),
  ];
  // A rule that applies and fires under one and the same condition has an outcome for each truth of it.
  const each = conditions.map((condition): Rule => ({ ...rule, appliesWhen: condition, when: condition }));
  return compileDecide(each).outcomes;
}

/** Of a rule that fires, a node that is not there is never so. */
function missingNode(when: Condition): Condition {
  return { kind: 'not', child: when };
}

/** The first condition of this name, as the explanation finds its node. */
function conditionNamed(condition: Condition, name: string): Condition | undefined {
  if (condition.name === name) return condition;
  if (condition.kind === 'leaf') return undefined;
  const children = condition.kind === 'not' ? [condition.child] : condition.children;
  for (const child of children) {
    const found = conditionNamed(child, name);
    if (found) return found;
  }
  return undefined;
}

export function isSame(a: readonly string[], b: readonly string[]): boolean {
  return a.length === b.length && a.every((outcome, index) => outcome === b[index]);
}
