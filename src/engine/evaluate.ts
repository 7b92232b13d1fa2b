import { sortedUnique } from '../base/order.js';
import type { ConstructKind, DataFinding, Hip } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import type { HipRecord, PatientRecord } from '../facts/patient-record.js';
import { conditionFacts, conditionsOf } from '../rulebook/condition-facts.js';
import { wordsOf } from '../rulebook/resolve-rule.js';
import type { Compute, Entry, Finding, Rule, Rulebook } from '../rulebook/types.js';
import type { ComputationTable } from './computation.js';
import { computeAll } from './compute.js';
import { computeForRule } from './shown-numbers.js';
import type { Computed } from './compute.js';
import type { ShownNumber } from './shown-numbers.js';
import type { BrokenDecision, Decide, Decision } from './decide.js';
import { deriveFacts } from './derive.js';
import type { Explanation } from './explanation.js';
import type { Truth } from './truth.js';
import { needsOf, nodeNamed } from './explanation.js';
import { explain, leafFromFacts } from './decide.js';
import { factsTold } from './told-facts.js';

export type Outcome = 'fires' | 'does-not-fire' | 'cannot-tell' | 'not-applicable';

export type DataConfidence = 'complete' | 'assumed' | 'partial';

/** What one rule says about one construct of one hip. */
export interface Advisory {
  readonly rule: string;
  readonly ruleVersion: string;
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly outcome: Outcome;
  readonly appliesWhen?: Explanation;
  readonly when?: Explanation;
  /** Facts whose knowledge would settle a "cannot tell". */
  readonly needs: readonly string[];
  /** The rule or a computation it needs is broken: it could not be evaluated. */
  readonly broken: boolean;
  /** For a rule that fires: what it shows. */
  readonly fired?: FiredDetail;
}

/** One of a rule's causes on this hip: named, excluded, or open with what would settle it. */
export interface Cause {
  readonly condition: string;
  readonly says: string;
  readonly truth: Truth;
  readonly needs: readonly string[];
}

export interface FiredDetail {
  readonly finding: Finding;
  readonly causes: readonly Cause[];
  /** The named conditions that single words of the rule depend on. */
  readonly named: ReadonlyMap<string, Truth>;
  readonly numbers: ReadonlyMap<string, ShownNumber>;
  readonly computed: readonly Computed[];
  readonly facts: readonly Fact[];
  readonly data: DataConfidence;
  readonly assumptions: readonly string[];
}

export interface HipEvaluation {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly facts: ReadonlyMap<string, Fact>;
  readonly computed: ReadonlyMap<string, Computed>;
  readonly findings: readonly DataFinding[];
  readonly advisories: readonly Advisory[];
}

export interface EngineFault {
  readonly rule: string;
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly error: unknown;
}

export interface EngineInput {
  readonly record: PatientRecord;
  readonly rulebook: Rulebook;
  readonly entry: Entry;
  readonly decide: Decide;
  readonly computations: ComputationTable;
}

export interface EngineOutput {
  readonly hips: readonly HipEvaluation[];
  /** For the log: stacks of what broke, without patient data in the message. */
  readonly faults: readonly EngineFault[];
}

/** Evaluates every rule on every hip and construct: exactly one outcome each. */
export async function evaluate(input: EngineInput): Promise<EngineOutput> {
  const faults: EngineFault[] = [];
  const hips: HipEvaluation[] = [];
  for (const record of input.record.hips) hips.push(await evaluateHip(record, input, faults));
  return { hips, faults };
}

async function evaluateHip(
  record: HipRecord,
  input: EngineInput,
  faults: EngineFault[],
): Promise<HipEvaluation> {
  const { rulebook, computations: table } = input;
  const facts = deriveFacts(record.facts, record.construct, rulebook.knowledge);
  const computed = computeAll({ rulebook, table, facts }, askedComputations(rulebook));
  const all = new Map([...facts, ...[...computed.values()].map(({ fact }) => [fact.id, fact] as const)]);
  const decisions = await input.decide(all);
  const scope: RuleScope = { input, record, facts: all, computed, faults };
  const advisories = input.rulebook.rules.map((rule) => adviseOn(rule, decisions.get(rule.id), scope));
  return {
    hip: record.hip,
    construct: record.construct,
    facts,
    computed,
    findings: record.findings,
    advisories,
  };
}

const askedOf = new WeakMap<Rulebook, ReadonlySet<string>>();

/** The computations that conditions ask about; any other is only worked out where it is shown. */
function askedComputations(rulebook: Rulebook): ReadonlySet<string> {
  const known = askedOf.get(rulebook);
  if (known) return known;
  const asked = new Set(rulebook.rules.flatMap(conditionsOf).flatMap(conditionFacts));
  askedOf.set(rulebook, asked);
  return asked;
}

interface RuleScope {
  readonly input: EngineInput;
  readonly record: HipRecord;
  readonly facts: ReadonlyMap<string, Fact>;
  readonly computed: ReadonlyMap<string, Computed>;
  readonly faults: EngineFault[];
}

function adviseOn(rule: Rule, decision: Decision | BrokenDecision | undefined, scope: RuleScope): Advisory {
  const { hip, construct } = scope.record;
  const base = { rule: rule.id, ruleVersion: rule.version, hip, construct };
  const broken = (error: unknown): Advisory => {
    scope.faults.push({ rule: rule.id, hip, construct, error });
    return { ...base, outcome: 'cannot-tell', needs: [], broken: true };
  };
  if (!decision) return broken(new Error('not decided'));
  if ('error' in decision) return broken(decision.error);
  const { appliesWhen, when } = decision;
  const outcome = outcomeOf(decision);
  if (outcome !== 'fires') {
    const needs = outcome === 'cannot-tell' ? neededFacts(decision) : [];
    const failure = needs.map((id) => scope.computed.get(id)?.failure).find((error) => error !== undefined);
    if (failure !== undefined) return broken(failure);
    return { ...base, outcome, appliesWhen, when, needs, broken: false };
  }
  try {
    return {
      ...base,
      outcome,
      appliesWhen,
      when,
      needs: [],
      broken: false,
      fired: firedDetail(rule, when, scope),
    };
  } catch (error) {
    return broken(error);
  }
}

function outcomeOf({ appliesWhen, when }: Decision): Outcome {
  if (appliesWhen.truth === 'false') return 'not-applicable';
  if (appliesWhen.truth === 'unknown') return 'cannot-tell';
  switch (when.truth) {
    case 'true':
      return 'fires';
    case 'false':
      return 'does-not-fire';
    case 'unknown':
      return 'cannot-tell';
  }
}

function neededFacts({ appliesWhen, when }: Decision): readonly string[] {
  return appliesWhen.truth === 'unknown' ? needsOf(appliesWhen) : needsOf(when);
}

function firedDetail(rule: Rule, when: Explanation, scope: RuleScope): FiredDetail {
  const finding = rule.findings.find((candidate) => fits(candidate, when, scope));
  if (!finding) throw new Error(`${rule.id}: no finding fits what fired`);
  const { rulebook, computations } = scope.input;
  const named = new Map(
    [...rule.named].map(
      ([name, condition]) => [name, explain(condition, leafFromFacts(scope.facts))] as const,
    ),
  );
  const causes = causesOf(rule, named);
  const wanted = numbersWanted(rule, finding);
  const numbers = computeForRule(rule.compute, wanted, { rulebook, table: computations, facts: scope.facts });
  const computed = sortedUnique(leafFacts(when)).flatMap((id) => scope.computed.get(id) ?? []);
  const inputs = [
    ...computed.flatMap(({ reads }) => reads),
    ...inputsOf(numbers, rulebook),
    ...factsTold(rule, finding),
    ...(finding.where ? conditionFacts(finding.where) : []),
  ];
  const facts = usedFacts(when, inputs, scope);
  const assumptions = sortedUnique([
    ...[...computed, ...numbers.values()].flatMap((one) => one.assumptions),
    ...facts.flatMap((fact) => fact.assumptions ?? []),
  ]);
  const isOpen = hasUnknownLeaf(when) || causes.some(({ truth }) => truth === 'unknown');
  return {
    finding,
    causes,
    named: new Map([...named].map(([name, { truth }]) => [name, truth])),
    numbers,
    computed,
    facts,
    assumptions,
    data: dataConfidence(isOpen, facts, assumptions),
  };
}

function causesOf(rule: Rule, named: ReadonlyMap<string, Explanation>): readonly Cause[] {
  return (rule.causes ?? []).map(({ condition, says }) => {
    const explanation = named.get(condition);
    if (!explanation) throw new TypeError(`${rule.id}: no condition "${condition}"`);
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

const NAME = /\{(?:[a-z]+:)?([a-z0-9-]+)/g;

/** Findings belong to the rulebook and never change: what they tell is worked out once. */
const wantedBy = new WeakMap<Finding, ReadonlySet<string>>();

/** The numbers a finding's wording mentions, and those these are made from: only what is told is worked out. */
function numbersWanted(rule: Rule, finding: Finding): ReadonlySet<string> {
  const known = wantedBy.get(finding);
  if (known) return known;
  const wanted = new Set(
    wordsOf(finding).flatMap((text) => [...text.matchAll(NAME)].map(([, name]) => name ?? '')),
  );
  // What a number is made from is written before it, so going backward meets every need.
  for (const [name, compute] of Object.entries(rule.compute ?? {}).reverse()) {
    if (wanted.has(name)) for (const other of madeFrom(compute)) wanted.add(other);
  }
  wantedBy.set(finding, wanted);
  return wanted;
}

function madeFrom(compute: Compute): readonly string[] {
  if ('line' in compute) return [];
  const inputs =
    'computation' in compute
      ? compute.with
      : 'change' in compute
        ? compute.change.with
        : compute.matching.with;
  const computed = Object.values(inputs ?? {}).flatMap((source) =>
    'computed' in source ? [source.computed] : [],
  );
  return 'matching' in compute ? [...computed, compute.matching.equals] : computed;
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
  if (where && explain(where, leafFromFacts(scope.facts)).truth !== 'true') return false;
  return node === undefined || nodeNamed(when, node)?.truth === 'true';
}

function leafFacts(explanation: Explanation): readonly string[] {
  switch (explanation.kind) {
    case 'compare':
      return [explanation.fact];
    case 'not':
      return leafFacts(explanation.child);
    default:
      return explanation.children.flatMap(leafFacts);
  }
}

/** The facts an advisory rests on or tells: those its condition found present, the inputs of its numbers, and those its words name. */
function usedFacts(when: Explanation, inputs: readonly string[], scope: RuleScope): readonly Fact[] {
  return sortedUnique([...leafFacts(when), ...inputs]).flatMap((id) => {
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
