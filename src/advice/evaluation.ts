import { canonicalJson } from '../base/canonical-json.js';
import { listUuid } from '../base/hash.js';
import { byText } from '../base/order.js';
import { nameOf } from '../fhir/references.js';
import { unmappedCodings } from '../facts/unmapped.js';
import type { UnmappedCoding } from '../facts/unmapped.js';
import type { Stated } from '../rulebook/governance.js';
import type { Site } from '../rulebook/site.js';
import { computeAll } from '../engine/compute.js';
import type { Computed } from '../engine/compute.js';
import type { ComputationTable } from '../engine/computation.js';
import { foundIn } from '../engine/compare.js';
import type { Advisory, HipEvaluation } from '../engine/evaluate.js';
import type { Fact } from '../facts/fact.js';
import type { PatientRecord } from '../facts/patient-record.js';
import type { Entry, Rulebook } from '../rulebook/types.js';
import type { LocalParameter, States } from './states.js';

/** Everything found for one patient in one call, as plain JSON with a stable order; immutable. */
export interface Evaluation {
  readonly id: string;
  readonly entry: Entry;
  readonly evaluatedAt: string;
  readonly engine: string;
  readonly rulebook: { readonly version: string; readonly hash: string };
  readonly site?: { readonly id: string; readonly version: string; readonly hash: string };
  /** Limits that are the installation's own. */
  readonly parameters?: readonly LocalParameter[];
  /** What the installation keeps silent or off; left out where everything speaks. */
  readonly states?: {
    readonly service?: Stated;
    readonly silent?: readonly string[];
    readonly off?: readonly string[];
  };
  readonly hips: readonly Readonly<Record<string, unknown>>[];
  readonly provenance: Provenance;
}

/** Where everything came from: decides nothing by itself, so two ways of stating one plan differ in nothing else. */
export interface Provenance {
  readonly operations: readonly Readonly<Record<string, unknown>>[];
  readonly implanted: PatientRecord['implanted'];
  /** How each set arrived, and which resources were not used and why. */
  readonly sets: PatientRecord['sets'];
  readonly notes: PatientRecord['notes'];
  readonly silenced: PatientRecord['silenced'];
  readonly leniencies: PatientRecord['leniencies'];
  /** Codings that a site's map translated, by resource. */
  readonly mapped?: readonly Readonly<Record<string, unknown>>[];
  /** Codings nothing here knows, counted; never their text. */
  readonly unmapped?: readonly UnmappedCoding[];
}

export interface EvaluationInput {
  /** What makes the call the one it is: client, service, hook instance, patient. */
  readonly call: readonly string[];
  readonly entry: Entry;
  readonly now: string;
  readonly engine: string;
  readonly rulebook: Rulebook;
  readonly site?: Site;
  readonly record: PatientRecord;
  readonly hips: readonly HipEvaluation[];
  readonly computations: ComputationTable;
  readonly states: States;
  readonly parameters: readonly LocalParameter[];
}

/**
 * The id of an evaluation: from the call it answers, under which rulebook, and what came of it. Facts and trees follow
 * from the call and the rulebook, so they need not be read again to name the evaluation.
 */
export function evaluationId({
  call,
  entry,
  now,
  engine,
  rulebook,
  site,
  record,
  hips,
}: EvaluationInput): string {
  const outcomes = hips.map((hip) => [
    hip.hip,
    hip.construct,
    hip.advisories.map(({ outcome }) => outcome).join(' '),
  ]);
  const orders = record.operations.map(({ name, kind }) => [name, kind]);
  return listUuid([...call, entry, now, engine, rulebook.hash, site?.hash ?? '-', orders, outcomes]);
}

/** Writes the evaluation down. Facts that nobody recorded and no rule asks about are left out; all outcomes are in. */
export function writeEvaluation(input: EvaluationInput, id: string): Evaluation {
  const { entry, now, engine, rulebook, site, record, hips, states, parameters } = input;
  return {
    id,
    entry,
    evaluatedAt: now,
    engine,
    rulebook: { version: rulebook.about.version, hash: rulebook.hash },
    ...(site && { site: { id: site.id, version: site.version, hash: site.hash } }),
    ...some('parameters', parameters),
    ...statesMember(states),
    hips: hips.map((hip) => writeHip(hip, input)),
    provenance: provenanceOf(record, rulebook),
  };
}

function statesMember({ service, silent, off }: States): Pick<Evaluation, 'states'> {
  if (service.state === 'speak' && silent.length === 0 && off.length === 0) return {};
  const quiet = service.state === 'speak' ? {} : { service };
  return { states: { ...quiet, ...some('silent', silent), ...some('off', off) } };
}

function provenanceOf(record: PatientRecord, rulebook: Rulebook): Provenance {
  const { operations, implanted, sets, notes, silenced, leniencies } = record;
  return {
    operations: operations.map(({ name, kind, side, sideFrom, by }) => ({
      from: name,
      kind,
      side,
      sideFrom,
      by,
    })),
    implanted,
    sets,
    notes: notes.map(({ from, why }) => ({ from, why })),
    silenced,
    leniencies,
    ...some('mapped', mappedCodings(record)),
    ...some('unmapped', unmappedIn(record, rulebook)),
  };
}

/** The codings of a record that nothing here knows, after translation: a function of the decision. */
export function unmappedIn({ resources }: PatientRecord, { knowledge }: Rulebook): readonly UnmappedCoding[] {
  return unmappedCodings(
    resources.map(({ resource }) => resource),
    knowledge,
  );
}

/** A member with nothing in it is left out. */
function some<Name extends string, Item>(
  name: Name,
  list: readonly Item[],
): Partial<Record<Name, readonly Item[]>> {
  return list.length === 0 ? {} : ({ [name]: list } as Record<Name, readonly Item[]>);
}

/** Which codings of which resources a site's map translated, in an order of its own. */
export function mappedCodings(record: PatientRecord): readonly Readonly<Record<string, unknown>>[] {
  const all = record.resources.flatMap((located) =>
    (located.translation?.mapped ?? []).map((coding) => ({ from: nameOf(located), ...coding })),
  );
  return all.sort(byText(canonicalJson));
}

/** Members of a fact or finding that say where it came from. */
const PROVENANCE_MEMBERS: ReadonlySet<string> = new Set(['from', 'date', 'lastDate', 'asFound']);

/** An evaluation without its provenance (references, dates, units as found) and without the id that follows from it. */
export function withoutProvenance(evaluation: Evaluation): Readonly<Record<string, unknown>> {
  const { hips } = evaluation;
  const kept = Object.entries(evaluation).filter(([name]) => name !== 'id' && name !== 'provenance');
  return { ...Object.fromEntries(kept), hips: hips.map(withoutSources) };
}

function withoutSources(value: unknown): unknown {
  if (Array.isArray(value)) return (value as readonly unknown[]).map(withoutSources);
  if (typeof value !== 'object' || value === null) return value;
  const kept = Object.entries(value).filter(([name]) => !PROVENANCE_MEMBERS.has(name));
  return Object.fromEntries(kept.map(([name, member]) => [name, withoutSources(member)]));
}

function writeHip(hip: HipEvaluation, input: EvaluationInput): Readonly<Record<string, unknown>> {
  const { rulebook, computations: table } = input;
  const computed = computeAll({ rulebook, table, facts: hip.facts });
  const asked = new Set(hip.advisories.flatMap(({ needs }) => needs));
  return {
    hip: hip.hip,
    construct: hip.construct,
    facts: [...hip.facts.values()].filter((fact) => isWorthWriting(fact, asked)).map(writeFact),
    computed: [...computed.values()].map(writeComputed),
    findings: hip.findings,
    advisories: hip.advisories.map(writeAdvisory),
  };
}

function isWorthWriting(fact: Fact, asked: ReadonlySet<string>): boolean {
  if (fact.state.status === 'unknown') return fact.state.reason !== 'not-recorded' || asked.has(fact.id);
  return true;
}

function writeFact(fact: Fact): Readonly<Record<string, unknown>> {
  const { state, provenance, remarks, ...rest } = fact;
  return {
    ...rest,
    ...(state.status === 'present' ? { status: 'present', value: foundIn(state.value).found } : state),
    ...(provenance.from.length > 0 && { from: provenance.from }),
    ...(provenance.date !== undefined && { date: provenance.date }),
    ...(provenance.lastDate !== undefined && { lastDate: provenance.lastDate }),
    ...(provenance.asFound && { asFound: provenance.asFound }),
    ...(remarks.length > 0 && { remarks }),
  };
}

function writeComputed(computed: Computed): Readonly<Record<string, unknown>> {
  const { id, unit, fact, shown, motion, inputs, assumptions, failure } = computed;
  return {
    id,
    unit,
    ...(shown !== undefined && { value: shown }),
    ...(motion !== undefined && { motion }),
    ...(fact.state.status === 'present'
      ? { decidesWith: foundIn(fact.state.value).found }
      : { needs: fact.state.status === 'unknown' ? fact.state.needs : [] }),
    ...(Object.keys(inputs).length > 0 && { inputs }),
    ...(assumptions.length > 0 && { assumptions }),
    ...(failure !== undefined && { broken: true }),
  };
}

function writeAdvisory(advisory: Advisory): Readonly<Record<string, unknown>> {
  const { rule, ruleVersion, outcome, appliesWhen, when, needs, broken, fired } = advisory;
  return {
    rule,
    ruleVersion,
    outcome,
    ...(needs.length > 0 && { needs }),
    ...(broken && { broken }),
    ...(fired && { data: fired.data }),
    ...(fired && some('causes', fired.causes)),
    ...(appliesWhen && { appliesWhen }),
    ...(when && { when }),
  };
}
