import type { ConstructKind, DataFinding, Hip } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import type { HipRecord, PatientRecord } from '../facts/patient-record.js';
import { conditionFacts, conditionsOf } from '../rulebook/condition-facts.js';
import type { Entry, Finding, Rule, Rulebook } from '../rulebook/types.js';
import type { ComputationTable } from './computation.js';
import { computeAll } from './compute.js';
import type { Computed } from './compute.js';
import type { ShownNumber } from './shown-numbers.js';
import type { BrokenDecision, Decide, Decision, FactMap, Verdict } from './decide.js';
import { deriveFacts } from './derive.js';
import type { Explanation } from './explanation.js';
import { needsOf } from './explanation.js';
import { firedDetail } from './fired-detail.js';
import type { Truth } from './truth.js';

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
  const all: FactMap = { get: (id) => computed.get(id)?.fact ?? facts.get(id) };
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

/** What a rule is decided and told on: the facts of one hip, and what was computed of them. */
export interface RuleScope {
  readonly input: EngineInput;
  readonly record: HipRecord;
  readonly facts: FactMap;
  readonly computed: ReadonlyMap<string, Computed>;
  readonly faults: EngineFault[];
}

function adviseOn(rule: Rule, decision: Decision | BrokenDecision | undefined, scope: RuleScope): Advisory {
  if (!decision) return brokenAdvisory(rule, new Error('not decided'), scope);
  if ('error' in decision) return brokenAdvisory(rule, decision.error, scope);
  const { outcome, needs } = decision.verdict ?? verdictOf(decision);
  if (outcome === 'fires') return firingAdvisory(rule, decision, scope);
  const failure = failureAmong(needs, scope);
  if (failure !== undefined) return brokenAdvisory(rule, failure, scope);
  return new QuietAdvisory(rule, decision, { outcome, needs }, scope.record);
}

/** What a rule that does not fire says: its trees, which few ask for, are those of its decision. */
class QuietAdvisory implements Advisory {
  readonly rule: string;
  readonly ruleVersion: string;
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly outcome: Outcome;
  readonly needs: readonly string[];
  readonly broken = false;
  readonly #decision: Decision;

  constructor(
    { id, version }: Rule,
    decision: Decision,
    { outcome, needs }: Verdict,
    { hip, construct }: HipRecord,
  ) {
    this.rule = id;
    this.ruleVersion = version;
    this.hip = hip;
    this.construct = construct;
    this.outcome = outcome;
    this.needs = needs;
    this.#decision = decision;
  }

  get appliesWhen(): Explanation {
    return this.#decision.appliesWhen;
  }

  get when(): Explanation {
    return this.#decision.when;
  }
}

function verdictOf(decision: Decision): Verdict {
  const outcome = outcomeOf(decision);
  return { outcome, needs: outcome === 'cannot-tell' ? neededFacts(decision) : NO_NEEDS };
}

const NO_NEEDS: readonly string[] = [];

function firingAdvisory(rule: Rule, { appliesWhen, when }: Decision, scope: RuleScope): Advisory {
  const { hip, construct } = scope.record;
  try {
    return {
      rule: rule.id,
      ruleVersion: rule.version,
      hip,
      construct,
      outcome: 'fires',
      appliesWhen,
      when,
      needs: NO_NEEDS,
      broken: false,
      fired: firedDetail(rule, when, scope),
    };
  } catch (error) {
    return brokenAdvisory(rule, error, scope);
  }
}

function brokenAdvisory(rule: Rule, error: unknown, { record, faults }: RuleScope): Advisory {
  const { hip, construct } = record;
  faults.push({ rule: rule.id, hip, construct, error });
  return {
    rule: rule.id,
    ruleVersion: rule.version,
    hip,
    construct,
    outcome: 'cannot-tell',
    needs: NO_NEEDS,
    broken: true,
  };
}

/** Why the first of the computations that would settle it failed, if one did. */
function failureAmong(needs: readonly string[], { computed }: RuleScope): unknown {
  for (const id of needs) {
    const failure = computed.get(id)?.failure;
    if (failure !== undefined) return failure;
  }
  return undefined;
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
