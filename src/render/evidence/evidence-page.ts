import { byText, sortedUnique } from '../../base/order.js';
import { ENDPOINTS } from '../../rulebook/schema-parts.js';
import { conditionFacts, conditionsOf } from '../../rulebook/condition-facts.js';
import type { Compute, Effect, Parameter, Rule, Rulebook } from '../../rulebook/types.js';
import { explainRule, ruleHead } from './explain-rule.js';
import type { ExplainedNode, RuleHead } from './explain-rule.js';
import { quantityText, titleOf } from '../words.js';
import { groupWords, speaksWhere } from './condition-words.js';
import { OR_ELSE, parameterText, readableWords } from './readable-words.js';
import { fullReference } from './reference.js';
import { sourceAttributes } from './source-attributes.js';
import type { SourceAttribute } from './source-attributes.js';

/**
 * What is behind one rule, as plain JSON: the eight blocks that let a professional review the basis of a card without
 * relying on it, then the source attributes. Whoever shows it, as Markdown or HTML, adds no word of knowledge.
 */
export interface EvidencePage extends RuleHead {
  /** Set for a rule without a card of its own. */
  readonly tells?: 'page' | 'line';
  /** Rules to which its card leaves the word, by id and title. */
  readonly yieldsTo: readonly { readonly rule: string; readonly title: string }[];
  readonly finding: FindingBlock;
  readonly why: WhyBlock;
  readonly options: readonly OptionSet[];
  readonly strength: StrengthBlock;
  readonly notKnown: NotKnownBlock;
  readonly limits: LimitsBlock;
  readonly sources: readonly PageSource[];
  readonly footer: FooterBlock;
  readonly attributes: readonly SourceAttribute[];
  readonly answers: AnswersBlock;
}

interface FindingBlock {
  readonly says: string;
  /** What a card says was noticed, each wording once. */
  readonly wordings: readonly string[];
}

interface WhyBlock {
  readonly applies: ExplainedNode;
  readonly fires: ExplainedNode;
  /** Groups of conditions that choose words and options only, by name. */
  readonly groups: readonly ExplainedNode[];
  readonly limits: readonly PageParameter[];
  readonly reads: readonly {
    readonly id: string;
    readonly title: string;
    /** For a computation: what it is worked out from, and what is taken where that is not known. */
    readonly from?: readonly string[];
    readonly assumes?: readonly string[];
  }[];
}

export interface PageParameter {
  readonly id: string;
  readonly value: string;
  readonly use: Parameter['use'];
  readonly readAt: string;
  readonly certainty: string;
  readonly sources: readonly string[];
  readonly why: string;
}

interface OptionSet {
  readonly where: string;
  readonly options: readonly string[];
  readonly checks: readonly string[];
  readonly before: readonly string[];
  readonly ready?: string;
}

interface StrengthBlock {
  readonly grades: readonly { readonly of: string; readonly grade: string }[];
  readonly why: string;
  /** What cards say of it, each wording once. */
  readonly told: readonly string[];
  readonly effects: readonly {
    readonly endpoint: string;
    readonly lines: readonly PageEffect[];
  }[];
}

interface PageEffect {
  readonly where: string;
  readonly says: string;
  readonly interval: string;
  readonly horizon: string;
  readonly population: string;
  readonly sources: readonly string[];
}

interface NotKnownBlock {
  readonly says: string;
  readonly told: readonly string[];
  readonly wouldChange: readonly string[];
}

interface LimitsBlock {
  readonly rule: readonly string[];
  readonly models: readonly { readonly title: string; readonly limits: readonly string[] }[];
  readonly all: readonly string[];
}

interface PageSource {
  readonly key: string;
  readonly short: string;
  readonly reference: string;
  readonly readAt: string;
  readonly where: string;
  readonly supports: readonly string[];
}

interface FooterBlock {
  readonly rule: string;
  readonly rulebook: string;
  readonly review: string;
  readonly reviewBy: string;
  readonly engine: string;
  readonly deferral: string;
}

interface AnswersBlock {
  readonly kept: string;
  readonly review: string;
  readonly reasons: readonly string[];
}

export function evidencePage(rule: Rule, rulebook: Rulebook, engine: string): EvidencePage {
  const { tells, yieldsTo = [] } = rule;
  return {
    ...ruleHead(rule),
    ...(tells && { tells }),
    yieldsTo: yieldsTo.map((other) => ({
      rule: other,
      title: rulebook.rules.find((one) => one.id === other)?.title ?? other,
    })),
    finding: findingBlock(rule, rulebook),
    why: whyBlock(rule, rulebook),
    options: optionSets(rule, rulebook),
    strength: strengthBlock(rule, rulebook),
    notKnown: notKnownBlock(rule, rulebook),
    limits: limitsBlock(rule, rulebook),
    sources: pageSources(rule, rulebook),
    footer: footerBlock(rule, rulebook, engine),
    attributes: sourceAttributes(rule, rulebook),
    answers: answersBlock(rule, rulebook),
  };
}

function findingBlock(rule: Rule, rulebook: Rulebook): FindingBlock {
  const wordings = rule.findings.map(({ summary }) =>
    summary.map((text) => readableWords(text, rule, rulebook)).join(OR_ELSE),
  );
  return { says: rule.messages.fires, wordings: [...new Set(wordings)] };
}

function whyBlock(rule: Rule, rulebook: Rulebook): WhyBlock {
  const { appliesWhen, firesWhen, findings, parameters, asks } = explainRule(rule, rulebook, []);
  const told = new Set([appliesWhen, firesWhen].flatMap(groupsIn).map(({ name }) => name));
  const groups = new Map(
    findings
      .flatMap(({ where }) => (where ? groupsIn(where) : []))
      .filter(({ name }) => !told.has(name))
      .map((group) => [group.name, group]),
  );
  return {
    applies: appliesWhen,
    fires: firesWhen,
    groups: [...groups.values()],
    limits: parameters.map(({ id }) => pageParameter(id, rulebook)),
    reads: asks.map(({ id, title, inputs }) => ({
      id,
      title,
      ...(inputs && {
        from: inputs.map((input) => titleOf(input, rulebook)),
        assumes: assumedBy(id.split('[')[0] ?? id, rulebook),
      }),
    })),
  };
}

/** Groups with a name, wherever they stand in a tree. */
function groupsIn(node: ExplainedNode): readonly ExplainedNode[] {
  const inner = node.children.flatMap(groupsIn);
  return node.name !== undefined && node.children.length > 0 ? [node, ...inner] : inner;
}

export function pageParameter(id: string, rulebook: Rulebook): PageParameter {
  const parameter = rulebook.parameters.get(id);
  if (!parameter) throw new TypeError(`no parameter ${id}`);
  const { use, readAt, certainty, citations, why, unit, allowed } = parameter;
  const settable = allowed
    ? ` A site may set it, from ${quantityText(allowed.low, unit)} to ${quantityText(allowed.high, unit)}: ${allowed.why}`
    : '';
  return {
    id,
    value: parameterText(parameter),
    use,
    readAt,
    certainty,
    sources: shortNames(citations, rulebook),
    why: `${why}${settable}`,
  };
}

function shortNames(keys: readonly string[], { citations }: Rulebook): readonly string[] {
  return sortedUnique(keys.map((key) => citations.get(key)?.short ?? key));
}

/** What a computation takes where an input is missing, or says of one that was never stated. */
function assumedBy(computation: string, { computations }: Rulebook): readonly string[] {
  const { inputs = [], unworn } = computations.get(computation) ?? {};
  const said = inputs.flatMap(({ whenMissing, optional }) => [whenMissing?.says, optional?.says]);
  return [...said, unworn?.says].filter((says) => says !== undefined);
}

function optionSets(rule: Rule, rulebook: Rulebook): readonly OptionSet[] {
  const words = (texts: readonly string[] = []): readonly string[] =>
    texts.map((text) => readableWords(text, rule, rulebook));
  const sets = rule.findings.map((finding) => ({
    where: speaksWhere(finding, rulebook),
    options: words(finding.options),
    checks: words(finding.checks),
    before: words(finding.before?.map(({ says }) => says)),
    ...(finding.ready !== undefined && { ready: finding.ready }),
  }));
  return joined(sets);
}

/** Neighbors that offer the same are told together, so that a reader sees where options really differ. */
function joined(sets: readonly OptionSet[]): readonly OptionSet[] {
  const told: OptionSet[] = [];
  for (const set of sets) {
    const last = told.at(-1);
    const isSame =
      last !== undefined && JSON.stringify({ ...last, where: '' }) === JSON.stringify({ ...set, where: '' });
    if (isSame) told[told.length - 1] = { ...last, where: `${last.where} — likewise: ${set.where}` };
    else told.push(set);
  }
  return told;
}

/** What is graded: the working of a mechanism by the kind of its proof, the other two by GRADE. */
const GRADED = {
  mechanism: 'mechanism',
  prognosis: 'prognosis (GRADE)',
  treatment: 'treatment (GRADE)',
} as const;

function strengthBlock(rule: Rule, rulebook: Rulebook): StrengthBlock {
  const { certainty, effects = [] } = rule;
  const grades = Object.entries(GRADED).flatMap(([member, of]) => {
    const grade = certainty[member as keyof typeof GRADED];
    return grade === undefined ? [] : [{ of, grade }];
  });
  const endpoints = ENDPOINTS.map((endpoint) => ({
    endpoint: endpoint.replaceAll('-', ' '),
    lines: effects
      .filter((effect) => effect.endpoint === endpoint)
      .map((effect) => pageEffect(effect, rule, rulebook)),
  }));
  const told = new Set(rule.findings.map(({ sure }) => readableWords(sure, rule, rulebook)));
  return {
    grades,
    why: certainty.why,
    told: [...told],
    effects: endpoints.filter(({ lines }) => lines.length > 0),
  };
}

function pageEffect(effect: Effect, rule: Rule, rulebook: Rulebook): PageEffect {
  const { fact, node, entries, says, horizon, population, citations } = effect;
  const silent = entries ? rule.entries.filter((entry) => !entries.includes(entry)) : [];
  const where = [
    `${titleOf(fact, rulebook)} ${rulebook.factById.get(fact)?.kind === 'condition' ? 'recorded' : 'known'}`,
    ...(node === undefined ? [] : [groupWords(node)]),
    ...(silent.length === 0 ? [] : [`not at ${silent.join(', ')}`]),
  ];
  return {
    where: where.join('; '),
    says: readableWords(says, rule, rulebook),
    interval: intervalOf(effect, rulebook),
    horizon,
    population,
    sources: shortNames(citations, rulebook),
  };
}

/** The interval as the source printed it; said to be missing where it printed none. */
function intervalOf({ says, parameter, endpoint }: Effect, { parameters }: Rulebook): string {
  if (endpoint === 'guidance') return 'none: no estimate';
  const value = parameter === undefined ? undefined : parameters.get(parameter)?.value;
  if (typeof value === 'object' && !Array.isArray(value) && 'ci95' in value)
    return `95 % CI ${[value['ci95']].flat().join('–')}`;
  const [, printed] = /95 % CI ([\d.–-]+)/.exec(says) ?? [];
  if (printed !== undefined) return `95 % CI ${printed}`;
  return /\(SD\b/.test(says) ? 'standard deviations, as printed' : 'none printed in what was read';
}

function notKnownBlock(rule: Rule, rulebook: Rulebook): NotKnownBlock {
  const asked = [...conditionFacts(rule.appliesWhen), ...conditionFacts(rule.when)];
  return {
    says: rule.messages.cannotTell,
    told: sortedUnique(rule.findings.flatMap(({ notKnown }) => notKnown.map(({ says }) => says))),
    wouldChange: sortedUnique(asked.map((id) => titleOf(id, rulebook))),
  };
}

function limitsBlock(rule: Rule, rulebook: Rulebook): LimitsBlock {
  const models = sortedUnique(computationsOf(rule, rulebook)).flatMap((id) => {
    const { title, limits } = rulebook.computations.get(id) ?? {};
    return title !== undefined && limits ? [{ title, limits }] : [];
  });
  return { rule: rule.limits ?? [], models, all: rulebook.about.limits ?? [] };
}

/** Every computation a rule asks for or shows. */
function computationsOf(rule: Rule, { computations }: Rulebook): readonly string[] {
  const asked = conditionsOf(rule)
    .flatMap(conditionFacts)
    .map((id) => id.split('[')[0] ?? id);
  const shown = Object.values(rule.compute ?? {}).flatMap(computationIn);
  return [...asked, ...shown].filter((id) => computations.has(id));
}

function computationIn(compute: Compute): readonly string[] {
  if ('line' in compute) return [];
  if ('change' in compute) return [compute.change.computation];
  return ['matching' in compute ? compute.matching.computation : compute.computation];
}

/** Sources of the rule, of its effects, its parameters and what it computes, each once. */
function pageSources(rule: Rule, rulebook: Rulebook): readonly PageSource[] {
  const supports = new Map<string, string[]>();
  const add = (key: string, what: string): unknown => supports.set(key, [...(supports.get(key) ?? []), what]);
  for (const { key, supports: what } of rule.citations ?? []) add(key, what);
  for (const { citations, endpoint } of rule.effects ?? [])
    for (const key of citations) add(key, `effect on ${endpoint.replaceAll('-', ' ')}`);
  for (const { id } of explainRule(rule, rulebook, []).parameters)
    for (const key of rulebook.parameters.get(id)?.citations ?? []) add(key, id);
  for (const { title, citations } of computationsOf(rule, rulebook).flatMap(
    (id) => rulebook.computations.get(id) ?? [],
  ))
    for (const key of citations) add(key, title);
  return [...supports]
    .map(([key, what]) => pageSource(key, sortedUnique(what), rulebook))
    .sort(byText(({ short }) => short));
}

function pageSource(key: string, supports: readonly string[], rulebook: Rulebook): PageSource {
  const { short = key, readAt = 'not known', where = 'not known' } = rulebook.citations.get(key) ?? {};
  return { key, short, reference: fullReference(key, rulebook), readAt, where, supports };
}

function footerBlock(rule: Rule, { about }: Rulebook, engine: string): FooterBlock {
  const { review } = rule;
  return {
    rule: `${rule.id} ${rule.version}`,
    rulebook: `${about.label}, ${about.date}`,
    review:
      review?.state === 'reviewed'
        ? `reviewed ${review.on} by ${review.by.join(', ')}`
        : 'draft: no clinician has reviewed it yet',
    reviewBy: rule.reviewBy,
    engine,
    deferral: about.deferral,
  };
}

function answersBlock({ intent }: Rule, { about }: Rulebook): AnswersBlock {
  const { kept, review, reasons } = about.answers[intent];
  return { kept, review, reasons: reasons.map(({ display }) => display) };
}
