import type { Fact } from '../facts/fact.js';
import type { Condition } from '../rulebook/types.js';
import { compareFact } from './compare.js';
import type { Comparison } from './compare.js';
import type { ComparisonExplanation, Explanation } from './explanation.js';
import { all, any, not } from './truth.js';

/** The facts a condition may ask about, by id. Every one is defined and carries known or unknown. */
export type FactMap = ReadonlyMap<string, Fact>;

/** Both conditions of a rule, decided on one set of facts. */
export interface Decision {
  readonly appliesWhen: Explanation;
  readonly when: Explanation;
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
  const name = condition.name === undefined ? {} : { name: condition.name };
  switch (condition.kind) {
    case 'leaf':
      return explainLeaf(condition, read(condition));
    case 'not': {
      const child = explain(condition.child, read);
      return { kind: 'not', ...name, truth: not(child.truth), child };
    }
    case 'all':
    case 'any': {
      const children = condition.children.map((child) => explain(child, read));
      const truths = children.map(({ truth }) => truth);
      return {
        kind: condition.kind,
        ...name,
        truth: condition.kind === 'all' ? all(truths) : any(truths),
        children,
      };
    }
  }
}

function explainLeaf(leaf: Leaf, comparison: Comparison): ComparisonExplanation {
  const { limit, name } = leaf;
  return {
    kind: 'compare',
    ...(name !== undefined && { name }),
    fact: leaf.fact,
    operator: leaf.operator,
    limit: limit.value,
    ...(limit.parameter !== undefined && { parameter: limit.parameter }),
    ...(limit.unit !== undefined && { unit: limit.unit }),
    ...comparison,
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
