import { readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import { codesIn, codingsOf, codingsOfAll, hasUnknownModifier } from '../fhir/codings.js';
import { asArray, asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf, normaliseReference, referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { DataFinding, DataFindingKind, MeasureDefinition, Side, Stage } from './definitions.js';
import { STAGES } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import { sideOf } from './laterality.js';
import { readMeasureValue } from './measure-value.js';
import { clip } from './quantity.js';
import { tiesOf } from './recognition.js';
import type { Note, Reading, Reads } from './readings.js';
import { NOTHING_READ } from './readings.js';

export interface ReadingContext {
  readonly knowledge: FactKnowledge;
  readonly measures: ReadonlyMap<string, MeasureDefinition>;
  readonly now: number;
  readonly fhirServer: string | undefined;
  /** Plan responses that are read themselves: what was merely extracted from them is not read again. */
  readonly plansRead: ReadonlySet<string>;
  /** Carriers whose side is an inference. */
  readonly inferredSides: ReadonlySet<string>;
}

/** A clock a day ahead, or a zone left out, is no prophecy. */
const FUTURE_TOLERANCE_MS = 24 * 3_600_000;

export function isInFuture(span: Span, now: number): boolean {
  return span.from > now + FUTURE_TOLERANCE_MS;
}

/** Reads one Observation: a reading, a refusal with its reason, or nothing when it is not one of our measures. */
export function readObservation(located: Located, context: ReadingContext): Reads {
  const { resource } = located;
  const identity = identify(resource, context);
  if (identity.kind === 'foreign') return NOTHING_READ;
  const from = nameOf(located);
  const status = resource['status'];
  if (status === 'entered-in-error' || status === 'cancelled') {
    return { ...NOTHING_READ, notes: [{ from, why: `status ${status}` }] };
  }
  if (identity.kind === 'unreadable') return unreadable(from, identity);
  if (repeatsPlan(resource, context)) return { ...NOTHING_READ, notes: [{ from, why: 'repeats the plan' }] };
  const { definition } = identity;
  const target = locate(resource, definition, context);
  if (target.kind === 'note') return { ...NOTHING_READ, notes: [{ from, why: target.why }] };
  if (target.kind === 'no-side') return withoutSide(from, definition, target.stage);
  if (target.kind === 'contradiction') {
    const text = `${definition.title}: one observation names more than one side`;
    return refuse(from, { definition, stage: undefined, sides: [] }, { kind: 'side-contradiction', text });
  }
  const place = { definition, stage: target.stage, sides: target.sides };
  const problem = unusable(resource, context);
  if (problem !== undefined) {
    return refuse(from, place, { kind: 'measure-unreadable', text: `${definition.title}: ${problem}` });
  }
  return readPlaced(located, place, context);
}

function repeatsPlan(resource: JsonObject, { plansRead, fhirServer }: ReadingContext): boolean {
  return objectsIn(resource['derivedFrom']).some((element) => {
    const reference = referenceOf(element);
    return reference !== undefined && plansRead.has(normaliseReference(reference, fhirServer));
  });
}

interface Place {
  readonly definition: MeasureDefinition;
  readonly stage: Stage | undefined;
  readonly sides: readonly Side[];
}

function readPlaced(located: Located, place: Place, context: ReadingContext): Reads {
  const from = nameOf(located);
  const value = readMeasureValue(located.resource, place.definition, context.knowledge);
  if (value.kind === 'none') return { ...NOTHING_READ, notes: [{ from, why: value.why }] };
  if (value.kind === 'refused') {
    return refuse(from, place, { kind: value.finding, text: `${place.definition.title}${value.text}` });
  }
  const { resource } = located;
  const date = dateOf(resource);
  const reading: Reading = {
    definition: place.definition,
    stage: place.stage,
    sides: place.sides,
    value: value.value,
    method: asText(value.qualifiers['method']),
    qualifiers: value.qualifiers,
    date,
    span: readFhirDate(date),
    from,
    asFound: located.translation?.asFound ?? value.asFound,
    ...assumptionsOf(located),
    remarks: remarksOf(located, place, context),
    ties: tiesOf(resource, context.fhirServer),
    sideInferred: context.inferredSides.has(from),
  };
  return { ...NOTHING_READ, readings: [reading] };
}

type Identity =
  | { readonly kind: 'foreign' }
  | { readonly kind: 'unreadable'; readonly why: string; readonly kept?: string }
  | { readonly kind: 'measure'; readonly definition: MeasureDefinition };

/** Which measure this is. What carries our group category but no readable code is ours, and unreadable. */
function identify(resource: JsonObject, context: ReadingContext): Identity {
  const { aliases, systems } = context.knowledge;
  const codings = codingsOf(resource['code'], aliases);
  const ours = [...new Set(codings.flatMap((c) => (c.system === systems.measure && c.code ? [c.code] : [])))];
  const definitions = ours.flatMap((code) => context.measures.get(code) ?? []);
  const [definition, second] = definitions;
  if (second) return { kind: 'unreadable', why: 'an observation with two measure codes' };
  if (definition) return { kind: 'measure', definition };
  if (ours[0] !== undefined) {
    const kept = 'unknown measure code';
    return { kind: 'unreadable', why: `${kept} ${clip(ours[0])}`, kept };
  }
  const bare = codings.find(
    (c) => c.system === undefined && c.code !== undefined && context.measures.has(c.code),
  );
  if (bare?.code !== undefined)
    return { kind: 'unreadable', why: `measure code ${bare.code} without a code system` };
  const inGroup = codingsOfAll(resource['category'], aliases).some(
    (c) => `${c.system}|${c.code}` === systems.group,
  );
  return inGroup ? { kind: 'unreadable', why: 'a hip measure without a readable code' } : { kind: 'foreign' };
}

type Target =
  | { readonly kind: 'place'; readonly stage: Stage | undefined; readonly sides: readonly Side[] }
  | { readonly kind: 'contradiction' }
  | { readonly kind: 'no-side'; readonly stage: Stage | undefined }
  | { readonly kind: 'note'; readonly why: string };

/** Stage by category and side by the body site; what cannot be placed is noted and left out. */
function locate(resource: JsonObject, definition: MeasureDefinition, context: ReadingContext): Target {
  const stages = stagesOf(resource, context);
  const stage = stages.length === 1 ? stages[0] : undefined;
  const nativeOnly = definition.stages.length === 1 && definition.stages[0] === 'native';
  if (stage === undefined && definition.scope === 'hip' && !nativeOnly) {
    return {
      kind: 'note',
      why: `${definition.id}: ${stages.length === 0 ? 'no stage stated' : 'two stages stated'}`,
    };
  }
  if (stage !== undefined && !definition.stages.includes(stage)) {
    return { kind: 'note', why: `${definition.id}: not a measure of stage ${stage}` };
  }
  const effective = stage ?? (nativeOnly ? 'native' : undefined);
  if (definition.scope === 'patient') return { kind: 'place', stage: effective, sides: [] };
  const reading = sideOf(resource, context.knowledge.laterality, context.knowledge.aliases);
  if (reading.kind === 'conflict') return { kind: 'contradiction' };
  if (reading.kind === 'unknown') return { kind: 'no-side', stage: effective };
  return { kind: 'place', stage: effective, sides: reading.sides };
}

function stagesOf(resource: JsonObject, context: ReadingContext): readonly Stage[] {
  const { aliases, systems } = context.knowledge;
  const codes = asArray(resource['category']).flatMap((concept) => codesIn(concept, systems.stage, aliases));
  return STAGES.filter((stage) => codes.includes(stage));
}

const USABLE_STATUS: ReadonlySet<unknown> = new Set(['preliminary', 'final', 'amended', 'corrected']);

/** Why a recognised measure can't be used, before its value is even looked at. */
function unusable(resource: JsonObject, context: ReadingContext): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  const { status } = resource;
  if (status === 'registered' || status === 'unknown') return `status ${status}, no value yet`;
  if (!USABLE_STATUS.has(status)) return 'status missing or unknown';
  const date = dateOf(resource);
  if (date === undefined) return undefined;
  const span = readFhirDate(date);
  if (!span) return 'expected a FHIR date, found none that exists';
  return isInFuture(span, context.now) ? `dated in the future (${clip(date.slice(0, 10))})` : undefined;
}

/** The clinically relevant time, in whatever form it was given. */
function dateOf(resource: JsonObject): string | undefined {
  const period = asObject(resource['effectivePeriod']);
  return (
    asText(resource['effectiveDateTime']) ??
    asText(resource['effectiveInstant']) ??
    asText(period?.['end']) ??
    asText(period?.['start']) ??
    asText(resource['issued'])
  );
}

function remarksOf(located: Located, place: Place, context: ReadingContext): readonly string[] {
  const { resource } = located;
  const from = nameOf(located);
  const remarks: string[] = [];
  const say = context.knowledge.remarks;
  if (resource['status'] === 'preliminary' && place.stage !== 'planned') remarks.push(say.preliminary);
  if (resource['status'] === 'final' && place.stage === 'planned') remarks.push(say.planSentAsFinal);
  if (referenceOf(resource['subject']) === undefined) remarks.push(say.patientFromQuery);
  if (context.inferredSides.has(from)) remarks.push(say.sideInferred);
  remarks.push(...(located.translation?.remarks ?? []));
  return remarks;
}

/** What a site's map put in is assumed, and said. */
function assumptionsOf({ translation }: Located): Pick<Reading, 'assumptions'> {
  return translation && translation.assumptions.length > 0 ? { assumptions: translation.assumptions } : {};
}

/** A planned value without a side may belong to the hip at hand: that is said aloud. Any other is noted. */
function withoutSide(from: string, definition: MeasureDefinition, stage: Stage | undefined): Reads {
  const why = `${stageText(stage)}${definition.title} without a side`;
  return stage === 'planned' ? unreadable(from, { why }) : { ...NOTHING_READ, notes: [{ from, why }] };
}

function refuse(from: string, place: Place, finding: { kind: DataFindingKind; text: string }): Reads {
  const hips = place.sides.length === 0 ? (['any'] as const) : place.sides;
  const findings = hips.map((hip) => ({
    kind: finding.kind,
    hip,
    construct: constructOf(place.stage),
    measure: place.definition.id,
    text: stageText(place.stage) + finding.text,
    from: [from],
  }));
  const refusal = { measure: place.definition.id, stage: place.stage, sides: place.sides };
  const kept = `${place.definition.title}: ${finding.kind}`;
  return { readings: [], refusals: [refusal], findings, notes: [{ from, why: finding.text, kept }] };
}

function constructOf(stage: Stage | undefined): DataFinding['construct'] {
  if (stage === 'planned') return 'planned';
  return stage === 'postoperative' || stage === 'intraoperative' ? 'in-place' : 'any';
}

function stageText(stage: Stage | undefined): string {
  return stage === undefined ? '' : `${stage} `;
}

function unreadable(from: string, { why, kept }: Pick<Note, 'why' | 'kept'>): Reads {
  const finding = {
    kind: 'measure-unreadable' as const,
    hip: 'any' as const,
    construct: 'any' as const,
    text: why,
    from: [from],
  };
  const note = { from, why, ...(kept !== undefined && { kept }) };
  return { readings: [], refusals: [], findings: [finding], notes: [note] };
}
