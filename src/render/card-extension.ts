import { conditionLimits } from '../rulebook/condition-facts.js';
import { placeholdersOf } from '../rulebook/placeholders.js';
import { wordsOf } from '../rulebook/resolve-rule.js';
import { readFhirDate } from '../base/dates.js';
import { compareText, sortedUnique } from '../base/order.js';
import { foundIn } from '../engine/compare.js';
import type { Advisory, FiredDetail } from '../engine/evaluate.js';
import type { Found } from '../engine/explanation.js';
import type { Fact } from '../facts/fact.js';
import type { Compute, Rule, Rulebook } from '../rulebook/types.js';
import type { ToldEvidence } from './card-effects.js';
import type { CardContext } from './card-types.js';

/** What of an advisory was told, and the hash by which it is known again. */
export interface Told {
  readonly fired: FiredDetail;
  readonly citations: readonly string[];
  readonly acknowledgement: string;
  readonly evidence: readonly ToldEvidence[];
}

/** What a card rests on, for programs: the same facts, numbers, limits and sources that its text shows. */
export function extensionOf(
  rule: Rule,
  advisory: Advisory,
  told: Told,
  context: CardContext,
): Readonly<Record<string, unknown>> {
  const { rulebook } = context;
  const { fired } = told;
  const dates = inputDates(fired.facts);
  const { mechanism, prognosis, treatment } = rule.certainty;
  return {
    evaluation: context.evaluation(),
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
    acknowledgement: told.acknowledgement,
    site: context.site,
    mapped: context.mapped,
    confidence: { mechanism, prognosis, treatment, data: fired.data },
    facts: some(fired.facts.map(factMember)),
    computed: some(computedMembers(fired)),
    parameters: some(parameterMembers(rule, fired, rulebook)),
    assumptions: some(fired.assumptions),
    evaluatedAt: context.evaluatedAt,
    newestInput: dates.at(-1),
    oldestInput: dates[0],
    causes: some(
      fired.causes.map(({ condition, truth, needs }) => ({ condition, truth, needs: some(needs) })),
    ),
    evidence: some(told.evidence.map(studiesMember)),
    citations: some(citationMembers(told.citations, rulebook)),
  };
}

/** Which studies are told of which outcome, each once. */
function studiesMember({ endpoint, effects }: ToldEvidence): Readonly<Record<string, unknown>> {
  return { endpoint, studies: some(sortedUnique(effects.flatMap(({ studies }) => studies))) };
}

/** An empty list is no member: JSON leaves undefined ones out. */
export function some<Item>(list: readonly Item[]): readonly Item[] | undefined {
  return list.length === 0 ? undefined : list;
}

function factMember(fact: Fact): Readonly<Record<string, unknown>> {
  return {
    id: fact.id,
    value: fact.state.status === 'present' ? valueMember(foundIn(fact.state.value).found) : undefined,
    unit: fact.unit,
    stage: fact.stage,
    retained: fact.retained,
    method: fact.method,
    from: some(fact.provenance.from),
    remarks: some(fact.remarks),
    assumptions: some(fact.assumptions ?? []),
  };
}

/** What follows from values without both ends may have neither: then there is nothing to tell, and no empty member. */
function valueMember(found: Found): Found | undefined {
  const isOpen = typeof found === 'object' && !('length' in found) && Object.keys(found).length === 0;
  return isOpen ? undefined : found;
}

function computedMembers(fired: FiredDetail): readonly Readonly<Record<string, unknown>>[] {
  const own = fired.computed.flatMap(({ id, shown, unit, motion, assumptions }) =>
    shown === undefined ? [] : [{ id, value: shown, unit, motion, assumptions: some(assumptions) }],
  );
  const numbers = [...fired.numbers.entries()].map(([name, number]) => {
    const { computation, value, unit, motion, assumptions } = number;
    const isPlan = computation !== undefined && Object.keys(number.with).length === 0;
    const shared = { value, unit, motion, assumptions: some(assumptions) };
    if (isPlan) return { id: computation, ...shared };
    const replaced = Object.keys(number.with).length === 0 ? {} : { with: number.with };
    return { id: computation, name, ...shared, ...replaced };
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
    if (!parameter) return [];
    const shipped = rulebook.shippedLimits?.get(id);
    const { value, unit } = parameter;
    return [{ id, value, unit, local: shipped !== undefined, rulebook: shipped }];
  });
}

function parametersOfFinding(rule: Rule, { finding }: FiredDetail): readonly string[] {
  const named = namedParameters(finding);
  const inputs = named.flatMap((name) => parametersOf(rule.compute?.[name]));
  const where = finding.where ? conditionLimits(finding.where) : [];
  const behind = [...rule.named.values()].flatMap(conditionLimits);
  return sortedUnique([...conditionLimits(rule.when), ...where, ...behind, ...named, ...inputs]);
}

function namedParameters(finding: FiredDetail['finding']): readonly string[] {
  return wordsOf(finding)
    .flatMap(placeholdersOf)
    .map((name) => name.split('.')[0] ?? '');
}

function parametersOf(compute: Compute | undefined): readonly string[] {
  if (!compute) return [];
  const of = (inputs: object): readonly string[] =>
    Object.values(inputs).flatMap((source: unknown) => (isReference(source) ? [source.parameter] : []));
  if ('computation' in compute) return of(compute.with ?? {});
  if ('change' in compute) return [compute.change.step.parameter, ...of(compute.change.with ?? {})];
  if ('line' in compute)
    return [compute.line.parameter, ...(compute.line.atMost ? [compute.line.atMost.parameter] : [])];
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

function citationMembers(
  keys: readonly string[],
  rulebook: Rulebook,
): readonly Readonly<Record<string, unknown>>[] {
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
