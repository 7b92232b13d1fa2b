import { Engine, Fact as EngineFact } from 'json-rules-engine';
import type { RuleResult } from 'json-rules-engine';
import { canonicalJson } from '../base/canonical-json.js';
import { sortedUnique } from '../base/order.js';
import type { Fact } from '../facts/fact.js';
import { OPERATORS } from '../rulebook/rule-schema.js';
import type { Condition, Limit, Rule } from '../rulebook/types.js';
import { compareFact } from './compare.js';
import type { Comparison } from './compare.js';
import type { BrokenDecision, Decide, Decision, LeafReader } from './decide.js';
import { explain } from './decide.js';

type Leaf = Extract<Condition, { kind: 'leaf' }>;

/** A live condition of json-rules-engine after a run: a leaf with what it was given and what it found. */
interface LiveLeaf {
  readonly factResult?: unknown;
  readonly result?: unknown;
}

/**
 * Decides rules with json-rules-engine. Its groups know two values only, so unknown would read as false and, under
 * `not`, as true. Therefore it evaluates leaves, with our own operators, each distinct one once for all rules; the
 * groups are combined by strong Kleene logic from what it reports. All priorities are equal, so no leaf is skipped.
 */
export function jsonRulesDecide(rules: readonly Rule[]): Decide {
  const table = distinctLeaves(rules);
  const asked = sortedUnique(table.leaves.map(({ fact }) => fact));
  const engine = newEngine(table.leaves);
  return async (facts) => {
    // Facts are constants here, so the engine's cache of computed facts would only cost a hash for each.
    const runtime = asked.map(
      (id) => [id, new EngineFact(id, facts.get(id) ?? NOT_A_FACT, { cache: false })] as const,
    );
    const { results, failureResults } = await engine.run(Object.fromEntries(runtime));
    const live = liveLeaves(results[0] ?? failureResults[0]);
    const read = leafReader(table, live);
    return new Map(rules.map((rule) => [rule.id, decideRule(rule, read)]));
  };
}

/** Stands where a fact is missing: comparing it throws, which breaks the rules that ask for it and no other. */
const NOT_A_FACT = {};

interface LeafTable {
  readonly leaves: readonly Leaf[];
  /** Which distinct leaf each leaf of each rule is. */
  readonly indexOf: ReadonlyMap<Condition, number>;
}

function distinctLeaves(rules: readonly Rule[]): LeafTable {
  const leaves: Leaf[] = [];
  const byKey = new Map<string, number>();
  const indexOf = new Map<Condition, number>();
  const visit = (condition: Condition): void => {
    if (condition.kind !== 'leaf') {
      for (const child of condition.kind === 'not' ? [condition.child] : condition.children) visit(child);
      return;
    }
    const key = canonicalJson([condition.fact, condition.operator, keyOf(condition.limit.value)]);
    const index = byKey.get(key) ?? leaves.push(condition) - 1;
    byKey.set(key, index);
    indexOf.set(condition, index);
  };
  for (const { appliesWhen, when } of rules) {
    visit(appliesWhen);
    visit(when);
  }
  return { leaves, indexOf };
}

/** A broken limit (not a number) has no JSON form. */
function keyOf(value: Limit['value']): unknown {
  return typeof value === 'number' ? String(value) : value;
}

function newEngine(leaves: readonly Leaf[]): Engine {
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
  const all = leaves.map(({ fact, operator, limit }) => ({ fact, operator, value: limit.value }));
  if (all.length > 0) {
    engine.addRule({ name: 'leaves', conditions: { all }, event: { type: 'leaves' } });
  }
  return engine;
}

function liveLeaves(result: RuleResult | undefined): readonly LiveLeaf[] {
  const conditions = result?.conditions as { readonly all?: readonly LiveLeaf[] } | undefined;
  return conditions?.all ?? [];
}

/** Reads a leaf from what the engine found, the comparison made once however many rules share it. */
function leafReader(table: LeafTable, live: readonly LiveLeaf[]): LeafReader {
  const known = new Map<number, Comparison>();
  return (leaf) => {
    const index = table.indexOf.get(leaf) ?? -1;
    const before = known.get(index);
    if (before) return before;
    const comparison = leafFound(leaf, live[index]);
    known.set(index, comparison);
    return comparison;
  };
}

function leafFound(leaf: Leaf, live: LiveLeaf | undefined): Comparison {
  if (typeof live?.result !== 'boolean') throw new Error(`json-rules-engine did not evaluate ${leaf.fact}`);
  const comparison = compareFact(live.factResult as Fact, leaf.operator, leaf.limit.value);
  if ((comparison.truth === 'true') !== live.result) throw new Error(`two answers for ${leaf.fact}`);
  return comparison;
}

function decideRule(rule: Rule, read: LeafReader): Decision | BrokenDecision {
  try {
    return { appliesWhen: explain(rule.appliesWhen, read), when: explain(rule.when, read) };
  } catch (error) {
    return { error };
  }
}
