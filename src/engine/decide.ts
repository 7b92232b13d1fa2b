import type { Fact } from '../facts/fact.js';
import type { Condition } from '../rulebook/types.js';
import { compareFact } from './compare.js';
import type { Comparison } from './compare.js';
import type { ComparisonExplanation, Explanation } from './explanation.js';
import type { Outcome } from './evaluate.js';
import { all, any, not } from './truth.js';

/** The facts a condition may ask about, by id. Every one is defined and carries known or unknown. */
export type FactMap = Pick<ReadonlyMap<string, Fact>, 'get'>;

/** Both conditions of a rule, decided on one set of facts. */
export interface Decision {
  readonly appliesWhen: Explanation;
  readonly when: Explanation;
  /** What follows from both, where it is known without making them. */
  readonly verdict?: Verdict;
}

/** What the conditions of a rule come to, and the facts that would settle them where they can't be told. */
export interface Verdict {
  readonly outcome: Outcome;
  readonly needs: readonly string[];
}

/** A decision that could not be made because the rule or a fact is broken. */
export interface BrokenDecision {
  readonly error: unknown;
}

/** Decides all rules on one set of facts; a broken rule gives its error and the others go on. */
export type Decide = (facts: FactMap) => Promise<ReadonlyMap<string, Decision | BrokenDecision>>;

type Leaf = Extract<Condition, { kind: 'leaf' }>;

/** How a leaf is compared: once by the engine itself, or from what json-rules-engine found. */
export type LeafReader = (leaf: Leaf) => Comparison;

/** Builds the explanation of a condition from its leaves, every branch, by strong Kleene logic. */
export function explain(condition: Condition, read: LeafReader): Explanation {
  switch (condition.kind) {
    case 'leaf':
      return explainLeaf(condition, read(condition));
    case 'not':
      return explainNot(condition, explain(condition.child, read));
    default:
      return explainGroup(
        condition,
        condition.children.map((child) => explain(child, read)),
      );
  }
}

function explainNot(condition: Extract<Condition, { kind: 'not' }>, child: Explanation): Explanation {
  const node = { kind: 'not' as const, truth: not(child.truth), child };
  return condition.name === undefined ? node : { ...node, name: condition.name };
}

function explainGroup(
  condition: Extract<Condition, { kind: 'all' | 'any' }>,
  children: readonly Explanation[],
): Explanation {
  const truths = children.map(({ truth }) => truth);
  const node = {
    kind: condition.kind,
    truth: condition.kind === 'all' ? all(truths) : any(truths),
    children,
  };
  return condition.name === undefined ? node : { ...node, name: condition.name };
}

function explainLeaf(leaf: Leaf, comparison: Comparison): ComparisonExplanation {
  const { limit, name } = leaf;
  const node = {
    kind: 'compare' as const,
    fact: leaf.fact,
    operator: leaf.operator,
    limit: limit.value,
    ...comparison,
  };
  if (name === undefined && limit.parameter === undefined) return node;
  return {
    ...node,
    ...(name !== undefined && { name }),
    ...(limit.parameter !== undefined && { parameter: limit.parameter }),
    ...(limit.unit !== undefined && { unit: limit.unit }),
  };
}

/** Reads a leaf straight from the facts. */
export function leafFromFacts(facts: FactMap): LeafReader {
  return (leaf) => {
    const fact = facts.get(leaf.fact);
    if (!fact) throw new TypeError(`no fact "${leaf.fact}"`);
    return compareFact(fact, leaf.operator, leaf.limit.value);
  };
}
