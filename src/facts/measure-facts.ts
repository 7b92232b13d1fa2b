import { canonicalJson } from '../base/canonical-json.js';
import { compareText, sortedUnique } from '../base/order.js';
import type { ConstructKind, DataFinding, Hip, MeasureDefinition, Stage } from './definitions.js';
import type { Fact, FactValue } from './fact.js';
import { unknownFact } from './fact.js';
import type { FactKnowledge } from './knowledge.js';
import type { Reading, Refusal } from './readings.js';

export interface MeasureSources {
  readonly readings: readonly Reading[];
  readonly byMeasure: ReadonlyMap<string, readonly Reading[]>;
  readonly refusals: readonly Refusal[];
  /** Prefetch keys of measures that were not wholly read. */
  readonly setsMissing: readonly string[];
}

export interface MeasureOutcome {
  readonly fact: Fact;
  readonly findings: readonly DataFinding[];
}

/** The stages in which a construct's measure is looked for, in order; planned and in place are never mixed. */
export function stagesFor(definition: MeasureDefinition, construct: ConstructKind): readonly Stage[] {
  const wanted: readonly Stage[] =
    construct === 'planned' ? ['planned'] : ['postoperative', 'intraoperative'];
  const own = wanted.filter((stage) => definition.stages.includes(stage));
  if (own.length > 0) return own;
  // What is only ever recorded after an operation is this hip's history, which a plan has too.
  if (!definition.stages.includes('native'))
    return definition.stages.every((stage) => stage === 'postoperative') ? ['postoperative'] : [];
  // The spine and the opposite leg don't wait for the operation: what was last seen counts.
  return definition.scope === 'patient' ? ['postoperative', 'native'] : ['native'];
}

/** Whose measure is asked for, and which components the plan leaves in place. */
export interface MeasurePlace {
  readonly hip: Hip;
  readonly construct: ConstructKind;
  readonly retained: ReadonlySet<string>;
}

/** One measure of one hip and construct: the better method, then the newer; what disagrees is reported. */
export function measureFact(
  definition: MeasureDefinition,
  where: MeasurePlace,
  sources: MeasureSources,
  knowledge: FactKnowledge,
): MeasureOutcome {
  const all = sources.byMeasure.get(definition.id);
  if (!all) return { fact: missingFact(definition, where, sources), findings: [] };
  const mine = all.filter((reading) => concerns(reading, where.hip));
  for (const stage of stagesFor(definition, where.construct)) {
    const candidates = mine.filter((reading) => reading.stage === stage || reading.stage === undefined);
    if (candidates.length > 0) return choose(definition, candidates, { ...where, stage }, knowledge);
  }
  if (staysInPlace(definition, where)) return retainedFact(definition, mine, where, sources, knowledge);
  const fact = missingFact(definition, where, sources);
  return { fact: mightStay(definition, mine, where) ? orRetained(fact) : fact, findings: [] };
}

/** It has a value in place, and nothing says which components the plan leaves there. */
function mightStay(definition: MeasureDefinition, mine: readonly Reading[], where: MeasurePlace): boolean {
  const { partOf } = definition;
  if (where.construct !== 'planned' || partOf === undefined || where.retained.size > 0) return false;
  const stages = stagesFor(definition, 'in-place');
  return mine.some(({ stage }) => stage !== undefined && stages.includes(stage));
}

/** Either a planned value or the word that its component stays would settle it. */
function orRetained(fact: Fact): Fact {
  if (fact.state.status !== 'unknown') return fact;
  return {
    ...fact,
    state: { ...fact.state, needs: sortedUnique([...fact.state.needs, 'component-retained']) },
  };
}

/** All components whose geometry it is are left in place. */
function staysInPlace({ partOf }: MeasureDefinition, { construct, retained }: MeasurePlace): boolean {
  return construct === 'planned' && partOf !== undefined && partOf.every((part) => retained.has(part));
}

/** What is not exchanged stays what it was: the value in place, with its date and method, and said to be retained. */
function retainedFact(
  definition: MeasureDefinition,
  mine: readonly Reading[],
  where: MeasurePlace,
  sources: MeasureSources,
  knowledge: FactKnowledge,
): MeasureOutcome {
  const inPlace = { ...where, construct: 'in-place' as const };
  for (const stage of stagesFor(definition, 'in-place')) {
    const candidates = mine.filter((reading) => reading.stage === stage);
    if (candidates.length === 0) continue;
    const outcome = choose(definition, candidates, { ...inPlace, stage }, knowledge);
    const findings = outcome.findings.map((finding) => ({ ...finding, construct: where.construct }));
    return { fact: { ...outcome.fact, retained: true }, findings };
  }
  return { fact: missingFact(definition, inPlace, sources), findings: [] };
}

function concerns(reading: Reading, hip: Hip): boolean {
  return reading.definition.scope === 'patient' || (hip !== 'unknown' && reading.sides.includes(hip));
}

function missingFact(
  definition: MeasureDefinition,
  where: { readonly hip: Hip; readonly construct: ConstructKind },
  sources: MeasureSources,
): Fact {
  const sideless = where.hip === 'unknown' && definition.scope === 'hip';
  const setsMissing = setsMissingFor(definition, where.construct, sources.setsMissing);
  if (!sideless && sources.refusals.length === 0 && setsMissing.length === 0) return notRecorded(definition);
  const unit = unitOf(definition);
  const stages = stagesFor(definition, where.construct);
  const refused = sources.refusals.some(
    (refusal) =>
      refusal.measure === definition.id &&
      (refusal.stage === undefined || stages.includes(refusal.stage)) &&
      (refusal.sides.length === 0 || (where.hip !== 'unknown' && refusal.sides.includes(where.hip))),
  );
  if (refused) return unknownFact(definition.id, 'refused', unit);
  if (setsMissing.length > 0) return unknownFact(definition.id, 'set-not-read', { ...unit, setsMissing });
  return sideless ? unknownFact(definition.id, 'side-unknown', unit) : notRecorded(definition);
}

/** The sets in which a measure of this construct might have stood, and that were not wholly read. */
function setsMissingFor(
  definition: MeasureDefinition,
  construct: ConstructKind,
  missing: readonly string[],
): readonly string[] {
  if (missing.length === 0) return missing;
  const planned = construct === 'planned' && definition.stages.includes('planned');
  const inPlace = construct === 'in-place';
  return missing.filter((key) => {
    switch (key) {
      case 'measures':
      case 'localMeasures':
        return true;
      case 'questionnaireResponses':
        return planned;
      case 'deviceRequests':
        return planned && definition.carriers.includes('order');
      case 'devices':
        return inPlace && definition.carriers.includes('device');
      default:
        return false;
    }
  });
}

/** Most measures of most patients: one value for each, made once. */
const unrecorded = new WeakMap<MeasureDefinition, Fact>();

function notRecorded(definition: MeasureDefinition): Fact {
  const known = unrecorded.get(definition);
  if (known) return known;
  const fact = unknownFact(definition.id, 'not-recorded', unitOf(definition));
  unrecorded.set(definition, fact);
  return fact;
}

/** Readings by measure id, so that each is looked at once. */
export function readingsByMeasure(readings: readonly Reading[]): ReadonlyMap<string, readonly Reading[]> {
  const byMeasure = new Map<string, Reading[]>();
  for (const reading of readings) {
    const list = byMeasure.get(reading.definition.id) ?? [];
    list.push(reading);
    byMeasure.set(reading.definition.id, list);
  }
  return byMeasure;
}

function choose(
  definition: MeasureDefinition,
  candidates: readonly Reading[],
  where: { readonly hip: Hip; readonly construct: ConstructKind; readonly stage: Stage },
  knowledge: FactKnowledge,
): MeasureOutcome {
  const ranked = [...candidates].sort(byRank(where.construct, knowledge));
  const [best] = ranked;
  if (!best) throw new Error(`no candidate for ${definition.id}`);
  if (definition.repeats) return { fact: repeatedFact(definition, ranked, best), findings: [] };
  const rivals = ranked.filter((reading) => reading !== best && disagree(definition, best, reading));
  const current =
    where.construct === 'planned' ? rivals.filter((reading) => !supersedes(best, reading)) : rivals;
  const findings = current.length === 0 ? [] : [conflict(definition, best, current, where)];
  const tied = current.some((reading) => byMerit(where.construct, knowledge)(best, reading) === 0);
  if (tied) {
    const from = sortedUnique([best, ...current].map((reading) => reading.from));
    return {
      fact: unknownFact(definition.id, 'conflicting', { ...unitOf(definition), provenance: { from } }),
      findings,
    };
  }
  return { fact: presentFact(definition, best, where, knowledge), findings };
}

/** A newer plan replaces an older one; between plans of one date there is nothing to choose. */
function supersedes(best: Reading, older: Reading): boolean {
  if (!best.span || !older.span) return false;
  // A date without zone spans more than a day; the days of two dates overlap, but one is still the later.
  return older.span.from < best.span.from && older.span.to < best.span.to;
}

function byMerit(construct: ConstructKind, knowledge: FactKnowledge): (a: Reading, b: Reading) => number {
  return (a, b) => {
    const rank = construct === 'planned' ? 0 : methodRank(a, knowledge) - methodRank(b, knowledge);
    return rank !== 0
      ? rank
      : (b.span?.from ?? -Infinity) === (a.span?.from ?? -Infinity)
        ? 0
        : (b.span?.from ?? -Infinity) > (a.span?.from ?? -Infinity)
          ? 1
          : -1;
  };
}

/** Merit first; then the value itself and only last the name, so that the order of a Bundle decides nothing. */
function byRank(construct: ConstructKind, knowledge: FactKnowledge): (a: Reading, b: Reading) => number {
  const merit = byMerit(construct, knowledge);
  return (a, b) =>
    merit(a, b) ||
    compareText(valueKey(a), valueKey(b)) ||
    compareText(a.from, b.from) ||
    compareText(a.date ?? '', b.date ?? '');
}

function valueKey(reading: Reading): string {
  const { value } = reading;
  const plain = value.kind === 'quantity' ? [String(value.interval.low), String(value.interval.high)] : value;
  return canonicalJson([plain, reading.qualifiers]);
}

function methodRank(reading: Reading, knowledge: FactKnowledge): number {
  const rank = knowledge.methodOrder.indexOf(reading.method ?? '');
  return rank < 0 ? knowledge.methodOrder.length - 1 : rank;
}

/** Like is compared with like only: another method, definition or plane reads another angle. */
function disagree(definition: MeasureDefinition, a: Reading, b: Reading): boolean {
  if (canonicalJson(a.qualifiers) !== canonicalJson(b.qualifiers)) return false;
  if (a.value.kind === 'quantity' && b.value.kind === 'quantity') {
    const limit = definition.conflict?.beyond;
    if (limit === undefined) return false;
    const gap = Math.max(
      a.value.interval.low - b.value.interval.high,
      b.value.interval.low - a.value.interval.high,
    );
    return gap > limit;
  }
  return canonicalJson(a.value) !== canonicalJson(b.value);
}

function conflict(
  definition: MeasureDefinition,
  best: Reading,
  rivals: readonly Reading[],
  where: { readonly hip: Hip; readonly construct: ConstructKind; readonly stage: Stage },
): DataFinding {
  const all = [best, ...rivals];
  const shown = sortedUnique(all.map(shownValue)).join(' and ');
  const limit = definition.conflict
    ? ` (conflict beyond ${definition.conflict.beyond} ${definition.unit ?? ''})`
    : '';
  return {
    kind: 'conflicting',
    hip: definition.scope === 'patient' ? 'any' : where.hip,
    construct: where.construct,
    measure: definition.id,
    text: `${where.stage} ${definition.title}: ${shown}${limit}`,
    from: sortedUnique(all.map((reading) => reading.from)),
  };
}

function shownValue(reading: Reading): string {
  return `${reading.asFound.value}${reading.asFound.unit === undefined ? '' : ` ${reading.asFound.unit}`}`;
}

function presentFact(
  definition: MeasureDefinition,
  best: Reading,
  where: { readonly construct: ConstructKind; readonly stage: Stage },
  knowledge: FactKnowledge,
): Fact {
  const error = where.construct === 'planned' ? 0 : measuringError(definition.id, best.method, knowledge);
  return {
    id: definition.id,
    state: { status: 'present', value: best.value },
    ...unitOf(definition),
    stage: best.stage ?? where.stage,
    ...(best.method !== undefined && { method: best.method }),
    ...(Object.keys(best.qualifiers).length > 0 && { qualifiers: best.qualifiers }),
    ...(error !== undefined && { error }),
    provenance: {
      from: [best.from],
      ...(best.date !== undefined && { date: best.date }),
      asFound: best.asFound,
    },
    remarks: best.remarks,
    ...(best.assumptions && { assumptions: best.assumptions }),
  };
}

function repeatedFact(definition: MeasureDefinition, ranked: readonly Reading[], best: Reading): Fact {
  const codes = sortedUnique(ranked.flatMap((reading) => codesOf(reading.value)));
  const assumptions = sortedUnique(ranked.flatMap((reading) => reading.assumptions ?? []));
  return {
    id: definition.id,
    state: { status: 'present', value: { kind: 'code', codes } },
    ...(best.stage !== undefined && { stage: best.stage }),
    provenance: { from: sortedUnique(ranked.map((reading) => reading.from)) },
    remarks: sortedUnique(ranked.flatMap((reading) => reading.remarks)),
    ...(assumptions.length > 0 && { assumptions }),
  };
}

function codesOf(value: FactValue): readonly string[] {
  return value.kind === 'code' ? value.codes : [];
}

function measuringError(
  id: string,
  method: string | undefined,
  knowledge: FactKnowledge,
): number | undefined {
  const errors = knowledge.measuringErrors.get(id);
  if (!errors) return 0;
  if (method === undefined) return errors.otherwise;
  return errors.unknown.includes(method) ? undefined : (errors.byMethod[method] ?? errors.otherwise);
}

function unitOf(definition: MeasureDefinition): { unit?: string } {
  return definition.unit === undefined ? {} : { unit: definition.unit };
}
