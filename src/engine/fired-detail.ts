import { sortedUnique } from '../base/order.js';
import type { Fact } from '../facts/fact.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import type { Finding, Rule, Rulebook } from '../rulebook/types.js';
import { compiled } from './compiled-conditions.js';
import type { FactMap } from './decide.js';
import type { Cause, DataConfidence, FiredDetail, RuleScope } from './evaluate.js';
import type { Explanation } from './explanation.js';
import { needsOf, nodeNamed } from './explanation.js';
import { numbersWanted } from './numbers-wanted.js';
import { computeForRule } from './shown-numbers.js';
import type { ShownNumber } from './shown-numbers.js';
import { factsTold } from './told-facts.js';
import type { Truth } from './truth.js';

/** What a rule that fires shows of this hip; throws where none of its findings fits. */
export function firedDetail(rule: Rule, when: Explanation, scope: RuleScope): FiredDetail {
  const finding = rule.findings.find((candidate) => fits(candidate, when, scope));
  if (!finding) throw new Error(`${rule.id}: no finding fits what fired`);
  const { rulebook, computations } = scope.input;
  const named = new Map<string, Truth>();
  for (const [name, condition] of rule.named) named.set(name, compiled(condition).truth(scope.facts));
  const causes = causesOf(rule, scope.facts);
  const wanted = numbersWanted(rule, finding);
  const numbers = computeForRule(rule.compute, wanted, { rulebook, table: computations, facts: scope.facts });
  const asked = factsIn(when);
  const computed = sortedUnique(asked).flatMap((id) => scope.computed.get(id) ?? []);
  const inputs = [
    ...computed.flatMap(({ reads }) => reads),
    ...inputsOf(numbers, rulebook),
    ...factsTold(rule, finding),
    ...(finding.where ? conditionFacts(finding.where) : []),
  ];
  const facts = usedFacts([...asked, ...inputs], scope);
  const assumptions = sortedUnique([
    ...[...computed, ...numbers.values()].flatMap((one) => one.assumptions),
    ...facts.flatMap((fact) => fact.assumptions ?? []),
  ]);
  const isOpen = hasUnknownLeaf(when) || causes.some(({ truth }) => truth === 'unknown');
  return {
    finding,
    causes,
    named,
    numbers,
    computed,
    facts,
    assumptions,
    data: dataConfidence(isOpen, facts, assumptions),
  };
}

function causesOf(rule: Rule, facts: FactMap): readonly Cause[] {
  return (rule.causes ?? []).map(({ condition, says }) => {
    const named = rule.named.get(condition);
    if (!named) throw new TypeError(`${rule.id}: no condition "${condition}"`);
    const explanation = compiled(named).explain(facts);
    return { condition, says, truth: explanation.truth, needs: needsOf(explanation) };
  });
}

/** The inputs of the numbers shown, and the facts that stand in for some of them. */
function inputsOf(numbers: ReadonlyMap<string, ShownNumber>, rulebook: Rulebook): readonly string[] {
  return [...numbers.values()].flatMap(({ computation, standIns }) => {
    const file = computation === undefined ? undefined : rulebook.computations.get(computation);
    return [...(file?.inputs.map(({ fact }) => fact) ?? []), ...standIns];
  });
}

function fits(finding: Finding, when: Explanation, scope: RuleScope): boolean {
  const { construct, entries, given, node, where } = finding;
  if (construct && construct !== scope.record.construct) return false;
  if (entries && !entries.includes(scope.input.entry)) return false;
  const status = (id: string): string | undefined => scope.facts.get(id)?.state.status;
  if (
    given &&
    !(given.recorded.some((id) => status(id) === 'present') && status(given.unknown) === 'unknown')
  )
    return false;
  if (where && compiled(where).truth(scope.facts) !== 'true') return false;
  return node === undefined || nodeNamed(when, node)?.truth === 'true';
}

/** The facts and computations an explanation tells of, each once. */
function factsIn(explanation: Explanation): ReadonlySet<string> {
  const ids = new Set<string>();
  collectFacts(explanation, ids);
  return ids;
}

function collectFacts(explanation: Explanation, ids: Set<string>): void {
  switch (explanation.kind) {
    case 'compare':
      ids.add(explanation.fact);
      break;
    case 'not':
      collectFacts(explanation.child, ids);
      break;
    default:
      for (const child of explanation.children) collectFacts(child, ids);
  }
}

/** The facts an advisory rests on or tells: those its condition found present, the inputs of its numbers, and those its words name. */
function usedFacts(ids: readonly string[], scope: RuleScope): readonly Fact[] {
  return sortedUnique(ids).flatMap((id) => {
    const fact = scope.computed.has(id) ? undefined : scope.facts.get(id);
    return fact?.state.status === 'present' ? [fact] : [];
  });
}

/** Partial: a branch could not be told, or a value carries a doubt. Assumed: a default stands in for a value. */
function dataConfidence(
  isOpen: boolean,
  facts: readonly Fact[],
  assumptions: readonly string[],
): DataConfidence {
  if (isOpen || facts.some(({ remarks }) => remarks.length > 0)) return 'partial';
  return assumptions.length > 0 ? 'assumed' : 'complete';
}

function hasUnknownLeaf(explanation: Explanation): boolean {
  switch (explanation.kind) {
    case 'compare':
      return explanation.truth === 'unknown';
    case 'not':
      return hasUnknownLeaf(explanation.child);
    default:
      return explanation.children.some(hasUnknownLeaf);
  }
}
