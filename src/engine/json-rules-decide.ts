import { Engine, Fact as EngineFact } from 'json-rules-engine';
import type { RuleProperties, RuleResult, TopLevelCondition } from 'json-rules-engine';
import { sortedUnique } from '../base/order.js';
import type { Fact } from '../facts/fact.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import { OPERATORS } from '../rulebook/schema.js';
import type { Condition, Limit, Rule } from '../rulebook/types.js';
import { compareFact } from './compare.js';
import type { Comparison } from './compare.js';
import type { BrokenDecision, Decide, Decision } from './decide.js';
import { explainGroup, explainLeaf, explainNot } from './decide.js';
import type { Explanation } from './explanation.js';

/** The live condition objects that json-rules-engine leaves behind: each leaf with what it was given and found. */
interface LiveCondition {
  readonly all?: readonly LiveCondition[];
  readonly any?: readonly LiveCondition[];
  readonly not?: LiveCondition;
  readonly factResult?: unknown;
  readonly result?: unknown;
}

/**
 * Decides rules with json-rules-engine. Its logic has two values, so unknown would read as false and, under `not`, as
 * true; therefore it evaluates every leaf with our own operators, and the groups are combined by strong Kleene logic
 * from the leaves it reports. Every leaf is evaluated because all priorities are equal.
 */
export function jsonRulesDecide(rules: readonly Rule[]): Decide {
  const engine = newEngine(rules);
  const asked = sortedUnique(
    rules.flatMap((rule) => [...conditionFacts(rule.appliesWhen), ...conditionFacts(rule.when)]),
  );
  return async (facts) => {
    // Facts are constants here, so the engine's cache of computed facts would only cost a hash for each.
    const runtime = asked.flatMap((id) => {
      const fact = facts.get(id);
      return fact ? [[id, new EngineFact(id, fact, { cache: false })] as const] : [];
    });
    const { results, failureResults } = await engine.run(Object.fromEntries(runtime));
    const byName = new Map([...results, ...failureResults].map((result) => [result.name, result]));
    return new Map(rules.map((rule) => [rule.id, read(rule, byName.get(rule.id))]));
  };
}

function newEngine(rules: readonly Rule[]): Engine {
  const engine = new Engine([], { allowUndefinedFacts: false });
  for (const operator of OPERATORS) {
    // One throwing operator would reject the whole run: the fault is met again, and told, when the leaf is read.
    engine.addOperator<Fact, Limit['value']>(operator, (fact, limit) => {
      try {
        return compareFact(fact, operator, limit).truth === 'true';
      } catch {
        return false;
      }
    });
  }
  for (const rule of rules) engine.addRule(ruleProperties(rule));
  return engine;
}

function ruleProperties(rule: Rule): RuleProperties {
  return {
    name: rule.id,
    conditions: { all: [toEngine(rule.appliesWhen), toEngine(rule.when)] } as TopLevelCondition,
    event: { type: rule.id },
  };
}

function toEngine(condition: Condition): object {
  switch (condition.kind) {
    case 'leaf':
      return { fact: condition.fact, operator: condition.operator, value: condition.limit.value };
    case 'not':
      return { not: toEngine(condition.child) };
    case 'all':
      return { all: condition.children.map(toEngine) };
    case 'any':
      return { any: condition.children.map(toEngine) };
  }
}

function read(rule: Rule, result: RuleResult | undefined): Decision | BrokenDecision {
  try {
    const top = result?.conditions as LiveCondition | undefined;
    const [applies, when] = top?.all ?? [];
    if (!applies || !when) throw new Error(`json-rules-engine returned no result for ${rule.id}`);
    return { appliesWhen: explainLive(rule.appliesWhen, applies), when: explainLive(rule.when, when) };
  } catch (error) {
    return { error };
  }
}

/** Walks our condition and the engine's live one side by side: they have the same shape. */
function explainLive(condition: Condition, live: LiveCondition): Explanation {
  switch (condition.kind) {
    case 'leaf':
      return explainLeaf(condition, leafFound(condition, live));
    case 'not':
      return explainNot(condition, explainLive(condition.child, live.not ?? NOT_EVALUATED));
    default: {
      const others = live[condition.kind] ?? [];
      const children = condition.children.map((child, index) =>
        explainLive(child, others[index] ?? NOT_EVALUATED),
      );
      return explainGroup(condition, children);
    }
  }
}

const NOT_EVALUATED: LiveCondition = {};

function leafFound(leaf: Extract<Condition, { kind: 'leaf' }>, live: LiveCondition): Comparison {
  if (typeof live.result !== 'boolean') throw new Error(`json-rules-engine did not evaluate ${leaf.fact}`);
  const comparison = compareFact(live.factResult as Fact, leaf.operator, leaf.limit.value);
  if ((comparison.truth === 'true') !== live.result) throw new Error(`two answers for ${leaf.fact}`);
  return comparison;
}
