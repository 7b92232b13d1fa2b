import { contentUuid } from '../base/hash.js';
import { byText, compareText, sortedUnique } from '../base/order.js';
import { readFhirDate } from '../base/dates.js';
import type { Advisory, FiredDetail, HipEvaluation } from '../engine/evaluate.js';
import type { Found } from '../engine/explanation.js';
import { foundIn } from '../engine/compare.js';
import type { Hip } from '../facts/definitions.js';
import type { Fact } from '../facts/fact.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import type { Compute, Condition, Effect, Entry, Rule, Rulebook } from '../rulebook/types.js';
import { fill, fillAll, fillFirst, placeholdersOf } from './message.js';
import type { MessageScope } from './message.js';

export type Indicator = 'info' | 'warning' | 'critical';

/** A CDS Hooks card (2.0), as far as this service writes one. */
export interface Card {
  readonly uuid: string;
  readonly summary: string;
  readonly detail: string;
  readonly indicator: Indicator;
  readonly source: {
    readonly label: string;
    readonly topic: { readonly system: string; readonly code: string; readonly display: string };
  };
  readonly extension: { readonly 'example.kotyle.advisory': Readonly<Record<string, unknown>> };
}

/** What is the same for all cards of one answer, and makes their ids. */
export interface CardContext {
  readonly rulebook: Rulebook;
  readonly entry: Entry;
  readonly service: string;
  readonly hookInstance: string;
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  readonly evaluation: string;
  readonly evaluatedAt: string;
  readonly engine: string;
}

export const RULE_SYSTEM = 'https://kotyle.example/fhir/CodeSystem/rule';

/** Most characters a summary may have (the standard allows fewer than 140). */
export const LONGEST_SUMMARY = 110;

/** Renders one advisory that fires. Throws when its wording can't be filled, which makes the rule "could not be evaluated". */
export function advisoryCard(rule: Rule, advisory: Advisory, hip: HipEvaluation, context: CardContext): Card {
  const { fired, when } = advisory;
  if (!fired || !when) throw new Error(`${rule.id} does not fire`);
  const scope: MessageScope = {
    rulebook: context.rulebook,
    facts: hip.facts,
    numbers: fired.numbers,
    computed: hip.computed,
    when,
  };
  const subject =
    rule.type === 'clinical' || isAboutHip(rule, hip)
      ? `${hipTitle(hip.hip)}, ${hip.construct}`
      : 'This patient';
  const label = context.rulebook.about.label;
  return {
    uuid: cardUuid(rule.id, hip.hip, hip.construct, context),
    summary: shorten(`${subject}: ${fillFirst(fired.finding.summary, scope)}`),
    detail: detailOf(rule, fired, scope, context),
    indicator: rule.indicator,
    source: { label, topic: { system: RULE_SYSTEM, code: rule.id, display: rule.title } },
    extension: { 'example.kotyle.advisory': extensionOf(rule, advisory, fired, context) },
  };
}

/** A finding about the record as a whole is not pinned on whichever hip comes first. */
function isAboutHip(rule: Rule, hip: HipEvaluation): boolean {
  const kinds = new Set(conditionFacts(rule.when).flatMap((id) => hip.facts.get(id)?.provenance.from ?? []));
  const mine = hip.findings.filter(({ from }) => from.some((name) => kinds.has(name)));
  return mine.some((finding) => finding.hip !== 'any');
}

export function hipTitle(hip: Hip): string {
  switch (hip) {
    case 'left':
      return 'Left hip';
    case 'right':
      return 'Right hip';
    case 'unknown':
      return 'Hip, side not stated';
  }
}

function shorten(text: string): string {
  return text.length <= LONGEST_SUMMARY ? text : `${text.slice(0, LONGEST_SUMMARY - 1)}…`;
}

export function cardUuid(kind: string, hip: string, construct: string, context: CardContext): string {
  const { iss, service, entry, hookInstance, rulebook } = context;
  return contentUuid([iss, service, entry, hookInstance, kind, hip, construct, rulebook.hash, '-']);
}

function detailOf(rule: Rule, fired: FiredDetail, scope: MessageScope, context: CardContext): string {
  const { finding } = fired;
  const lines = [
    `**Found** ${fillAll(finding.found, scope).join('; ')}.`,
    ...actionLines(rule, fired, scope),
    `**Sure?** ${fillFirst([finding.sure], scope)}.`,
    `**Not known** ${notKnown(fired, scope)}.`,
    `*${context.rulebook.about.deferral}*`,
  ];
  // A scheduler reads the booking card: what was found and what to prepare; numbers are for the surgeon's card.
  const effects = finding.before ? [] : effectLines(rule, scope);
  return [...lines, ...effects, ...sourceLines(rule, scope, context)].join('\n\n');
}

function actionLines(rule: Rule, fired: FiredDetail, scope: MessageScope): readonly string[] {
  const { options, checks, before, ready } = fired.finding;
  if (options) return [`**Options** ${fillAll(options, scope).join(' · ')}.`];
  if (checks) return [`**To check** ${fillAll(checks, scope).join(' · ')}.`];
  if (!before) throw new Error(`${rule.id}: a finding needs options, checks or work-up`);
  const open = before.filter(
    ({ fact }) => fact === undefined || scope.facts.get(fact)?.state.status !== 'present',
  );
  const items = open.slice(0, 3).map(({ says }) => says);
  const readyText = ready === undefined ? '' : ` **Have ready** ${ready}.`;
  return [`**Before surgery** ${items.join(' · ')}.${readyText}`];
}

/** What this advisory would look at and could not, what it assumed instead, and doubts about what it did see. */
function notKnown(fired: FiredDetail, scope: MessageScope): string {
  const missing = fired.finding.notKnown
    .filter(({ fact }) => scope.facts.get(fact)?.state.status === 'unknown')
    .map(({ says }) => says);
  const parts = missing.slice(0, 3);
  const remarks = sortedUnique(fired.facts.flatMap((fact) => fact.remarks));
  const assumed = fired.assumptions.map((assumption) => `assumed: ${assumption}`);
  const all = [parts.join(', '), ...remarks, ...assumed].filter((part) => part !== '');
  return all.length === 0 ? 'nothing this advisory uses' : all.join('; ');
}

function effectLines(rule: Rule, scope: MessageScope): readonly string[] {
  const shown = shownEffects(rule, scope).flatMap((effect) => fill(effect.says, scope) ?? []);
  if (shown.length === 0) return [];
  const items = shown.map((text) => `- ${text}`).join('\n');
  return [`Effects read; these overlap and do not add:\n${items}`];
}

function shownEffects(rule: Rule, scope: MessageScope): readonly Effect[] {
  return (rule.effects ?? []).filter(({ fact }) => scope.facts.get(fact)?.state.status === 'present');
}

function sourceLines(rule: Rule, scope: MessageScope, context: CardContext): readonly string[] {
  const shorts = citationKeys(rule, scope).map((key) => context.rulebook.citations.get(key)?.short ?? key);
  const sources = shorts.length === 0 ? (rule.basis ?? '') : shorts.join('; ');
  const overdue = context.evaluatedAt.slice(0, 10) > rule.reviewBy ? ' · review overdue' : '';
  return [`Sources: ${sources}`, `${rule.id} ${rule.version} · ${context.rulebook.about.label}${overdue}`];
}

function citationKeys(rule: Rule, scope: MessageScope): readonly string[] {
  const effects = shownEffects(rule, scope).flatMap(({ citations }) => citations);
  return sortedUnique([...(rule.citations ?? []).map(({ key }) => key), ...effects]);
}

function extensionOf(
  rule: Rule,
  advisory: Advisory,
  fired: FiredDetail,
  context: CardContext,
): Readonly<Record<string, unknown>> {
  const { rulebook } = context;
  const dates = inputDates(fired.facts);
  const { mechanism, prognosis, treatment } = rule.certainty;
  return {
    evaluation: context.evaluation,
    rule: rule.id,
    ruleVersion: rule.version,
    rulebook: rulebook.about.version,
    rulebookHash: rulebook.hash,
    rulebookStatus: rulebook.about.experimental
      ? `${rulebook.about.status}, experimental`
      : rulebook.about.status,
    engine: context.engine,
    hip: advisory.hip,
    construct: advisory.construct,
    outcome: advisory.outcome,
    confidence: { mechanism, prognosis, treatment, data: fired.data },
    facts: some(fired.facts.map(factMember)),
    computed: some(computedMembers(fired)),
    parameters: some(parameterMembers(rule, fired, rulebook)),
    assumptions: some(fired.assumptions),
    evaluatedAt: context.evaluatedAt,
    newestInput: dates.at(-1),
    oldestInput: dates[0],
    citations: some(citationMembers(rule, fired, rulebook)),
  };
}

/** An empty list is no member: JSON leaves undefined ones out. */
function some<Item>(list: readonly Item[]): readonly Item[] | undefined {
  return list.length === 0 ? undefined : list;
}

function factMember(fact: Fact): Readonly<Record<string, unknown>> {
  const value: Found | undefined =
    fact.state.status === 'present' ? foundIn(fact.state.value).found : undefined;
  return {
    id: fact.id,
    value,
    unit: fact.unit,
    stage: fact.stage,
    method: fact.method,
    from: some(fact.provenance.from),
    remarks: some(fact.remarks),
  };
}

function computedMembers(fired: FiredDetail): readonly Readonly<Record<string, unknown>>[] {
  const own = fired.computed.flatMap(({ id, shown, unit, motion, assumptions }) =>
    shown === undefined ? [] : [{ id, value: shown, unit, motion, assumptions: some(assumptions) }],
  );
  const numbers = [...fired.numbers.entries()].map(([name, number]) => {
    const { computation, value, unit, motion, assumptions } = number;
    const isPlan = computation !== undefined && Object.keys(number.with).length === 0;
    const shared = { value, unit, motion, assumptions: some(assumptions) };
    return isPlan ? { id: computation, ...shared } : { id: computation, name, ...shared, with: number.with };
  });
  return [...own, ...numbers];
}

const parametersTold = new WeakMap<FiredDetail['finding'], readonly string[]>();

/** Every limit the rule compares with and every parameter its words or numbers use: the same for each firing. */
function parameterMembers(
  rule: Rule,
  fired: FiredDetail,
  rulebook: Rulebook,
): readonly Readonly<Record<string, unknown>>[] {
  const { finding } = fired;
  const ids = parametersTold.get(finding) ?? parametersOfFinding(rule, fired);
  parametersTold.set(finding, ids);
  return ids.flatMap((id) => {
    const parameter = rulebook.parameters.get(id);
    return parameter ? [{ id, value: parameter.value, unit: parameter.unit }] : [];
  });
}

function parametersOfFinding(rule: Rule, { finding }: FiredDetail): readonly string[] {
  const named = namedParameters(finding);
  const inputs = named.flatMap((name) => parametersOf(rule.compute?.[name]));
  return sortedUnique([...parametersIn(rule.when), ...named, ...inputs]);
}

function namedParameters(finding: FiredDetail['finding']): readonly string[] {
  const texts = [...finding.summary, ...finding.found, ...(finding.options ?? []), finding.sure];
  return texts.flatMap(placeholdersOf).map((name) => name.split('.')[0] ?? '');
}

function parametersOf(compute: Compute | undefined): readonly string[] {
  if (!compute) return [];
  const of = (inputs: object): readonly string[] =>
    Object.values(inputs).flatMap((source: unknown) => (isReference(source) ? [source.parameter] : []));
  if ('computation' in compute) return of(compute.with ?? {});
  if ('change' in compute) return [compute.change.step.parameter, ...of(compute.change.with ?? {})];
  return [compute.matching.within.parameter, ...of(compute.matching.with)];
}

function isReference(source: unknown): source is { readonly parameter: string } {
  return (
    typeof source === 'object' &&
    source !== null &&
    'parameter' in source &&
    typeof source.parameter === 'string'
  );
}

function parametersIn(condition: Condition): readonly string[] {
  if (condition.kind === 'leaf')
    return condition.limit.parameter === undefined ? [] : [condition.limit.parameter];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(parametersIn);
}

function citationMembers(
  rule: Rule,
  fired: FiredDetail,
  rulebook: Rulebook,
): readonly Readonly<Record<string, unknown>>[] {
  const present = new Set(fired.facts.map(({ id }) => id));
  const effects = (rule.effects ?? [])
    .filter(({ fact }) => present.has(fact))
    .flatMap(({ citations }) => citations);
  const keys = sortedUnique([...(rule.citations ?? []).map(({ key }) => key), ...effects]);
  return keys.flatMap((key) => {
    const citation = rulebook.citations.get(key);
    if (!citation) return [];
    const { doi, pmid } = citation;
    return [
      { id: key, ...(doi !== null && { doi }), ...(pmid !== null && { pmid }), readAt: citation.readAt },
    ];
  });
}

/** Dates of the inputs, oldest first, compared as instants. */
function inputDates(facts: readonly Fact[]): readonly string[] {
  const dated = facts.flatMap(({ provenance }) => {
    const span = readFhirDate(provenance.date);
    return span && provenance.date !== undefined ? [{ date: provenance.date, from: span.from }] : [];
  });
  return dated.sort((a, b) => a.from - b.from || compareText(a.date, b.date)).map(({ date }) => date);
}

const INDICATOR_ORDER: readonly Indicator[] = ['critical', 'warning', 'info'];

/** Critical first, then warning, then info; inside each by rule and hip, so that order says nothing else. */
export function sortCards(cards: readonly Card[]): readonly Card[] {
  const byRule = byText((card: Card) => `${card.source.topic.code} ${card.summary}`);
  return [...cards].sort(
    (a, b) => INDICATOR_ORDER.indexOf(a.indicator) - INDICATOR_ORDER.indexOf(b.indicator) || byRule(a, b),
  );
}
