import { canonicalJson } from '../base/canonical-json.js';
import type { Span } from '../base/dates.js';
import { compareText } from '../base/order.js';
import type { Coding } from '../fhir/codings.js';
import { nameOf } from '../fhir/references.js';
import type { JsonObject } from '../fhir/json.js';
import type { Located } from '../fhir/references.js';
import { dateProblem, knownCodings } from './diagnosis.js';
import type { DiagnosisContext, KnownCoding } from './diagnosis.js';
import type { FactKnowledge, HistoryRole, OperationKind } from './knowledge.js';
import { sideOf } from './laterality.js';
import type { SideReading } from './laterality.js';
import { doubtful, notDone, performedDate, performedWhen } from './past-procedure.js';
import type { Note } from './readings.js';
import { operationOf } from './recognition.js';

/** Kinds of total hip replacement; the one that says most comes first. */
const KINDS = ['revision', 'conversion', 'primary', 'unspecified'] as const;
type ArthroplastyKind = (typeof KINDS)[number];

/** A total hip replacement of one hip, done. Two hips done in one Procedure are two of these. */
export interface PastArthroplasty {
  readonly name: string;
  readonly side: SideReading;
  readonly kind: ArthroplastyKind;
  readonly status: 'completed';
  readonly by: Required<Coding>;
  readonly date?: string;
  readonly span?: Span;
}

/** A dislocated hip put back without opening it. `unclear`: the code is for a native joint, and no replacement is known. */
export interface ClosedReduction {
  readonly name: string;
  readonly side: SideReading;
  readonly joint: 'prosthesis' | 'unclear';
  readonly date?: string;
  readonly span?: Span;
}

/** A total hip replacement that is prepared. */
export interface PreparedArthroplasty {
  readonly name: string;
  readonly side: SideReading;
  readonly kind: ArthroplastyKind;
  readonly by: Required<Coding>;
}

/** A hip replaced in part, or resurfaced: no total hip replacement, and no native hip any more. */
export interface OtherReplacement {
  readonly name: string;
  readonly side: SideReading;
  readonly isPartial: boolean;
  readonly span?: Span;
}

export interface ProcedureHistory {
  readonly arthroplasties: readonly PastArthroplasty[];
  readonly otherReplacements: readonly OtherReplacement[];
  /** Hip operations going on now. */
  readonly inProgress: readonly { readonly name: string; readonly side: SideReading }[];
  readonly closedReductions: readonly ClosedReduction[];
  readonly planned: readonly PreparedArthroplasty[];
  readonly notes: readonly Note[];
}

/** One Procedure that says something about a hip. */
interface HipProcedure {
  readonly located: Located;
  readonly name: string;
  readonly side: SideReading;
  readonly operation: { readonly kind: OperationKind; readonly by: Required<Coding> } | undefined;
  readonly roles: ReadonlySet<HistoryRole>;
}

/** One Procedure, one hip of it, done. */
interface Done extends HipProcedure {
  readonly date?: string;
  readonly span?: Span;
}

/**
 * What the Procedures of a record tell of a patient's hips. Reductions, osteotomies, fixations, explantations and
 * partial replacements are no total hip replacement. ICD-10-PCS has no code for an exchange: a removal counts as a
 * revision only together with a replacement of the same hip on the same day.
 */
export function readProcedureHistory(
  procedures: readonly Located[],
  context: DiagnosisContext,
): ProcedureHistory {
  const { knowledge } = context;
  const all = procedures
    .filter(({ resource }) => resource['resourceType'] === 'Procedure')
    .flatMap((located) => hipProcedure(located, knowledge))
    .sort((a, b) => compareText(a.name, b.name));
  const problems = all.flatMap((procedure) => problemOf(procedure, context));
  const refused = new Set(problems.map(({ from }) => from));
  const withStatus = (status: string): readonly HipProcedure[] =>
    all.filter(({ located, name }) => located.resource['status'] === status && !refused.has(name));
  const done = withStatus('completed').flatMap(perHip);
  const hasRemoval = besideOnThatDay(done.filter(({ roles }) => roles.has('removal')));
  const arthroplasties = oncePerDay(done.flatMap((procedure) => arthroplasty(procedure, hasRemoval)));
  return {
    arthroplasties,
    otherReplacements: done.flatMap(otherReplacement),
    inProgress: withStatus('in-progress').map(({ name, side }) => ({ name, side })),
    closedReductions: closedReductions(done),
    planned: withStatus('preparation').flatMap(prepared),
    notes: [...problems, ...lonelyRemovals(done)],
  };
}

function prepared({ name, side, operation }: HipProcedure): readonly PreparedArthroplasty[] {
  const kind = arthroplastyKind(operation?.kind);
  return operation && kind ? [{ name, side, kind, by: operation.by }] : [];
}

function hipProcedure(located: Located, knowledge: FactKnowledge): readonly HipProcedure[] {
  const { resource } = located;
  const codings = knownCodings(resource['code'], knowledge);
  const roles = rolesOf(codings, knowledge);
  const operation = operationOf(
    codings.map(({ coding }) => coding),
    knowledge.operations,
    knowledge,
  );
  if (operation === undefined && roles.size === 0) return [];
  const side = sideOf(resource, knowledge.laterality, knowledge.aliases);
  return [{ located, name: nameOf(located), side, operation, roles }];
}

function rolesOf(codings: readonly KnownCoding[], knowledge: FactKnowledge): ReadonlySet<HistoryRole> {
  const sets = codings.flatMap((coding) => [...coding.sets]);
  return new Set(sets.flatMap((id) => knowledge.historyOperations.get(id) ?? []));
}

/** Why a Procedure is not used; preparation and progress are told apart elsewhere and are no problem. */
function problemOf({ located, name }: HipProcedure, context: DiagnosisContext): readonly Note[] {
  const { resource } = located;
  const { status } = resource;
  const isDone = status !== 'preparation' && status !== 'in-progress';
  const why = isDone
    ? (notDone(resource) ?? doubtful(resource) ?? dateProblem(performedDate(resource), context.now))
    : (doubtful({ ...resource, status: 'completed' }) ?? neverClosed(resource, context.now));
  return why === undefined ? [] : [{ from: name, why }];
}

const LONGEST_OPERATION_DAYS = 2;
const DAY_MS = 86_400_000;

/** A status that nobody closed is not the operation that is running now, and must not silence what is planned. */
function neverClosed(resource: JsonObject, now: number): string | undefined {
  if (resource['status'] !== 'in-progress') return undefined;
  const begun = performedWhen(resource);
  if (!begun || (now - begun.span.to) / DAY_MS <= LONGEST_OPERATION_DAYS) return undefined;
  return `expected an operation begun in the last ${LONGEST_OPERATION_DAYS} days, found one in progress since ${begun.date}`;
}

/** A Procedure of both hips is two operations; one whose side is not known, or contradicts itself, stays one. */
function perHip(procedure: HipProcedure): readonly Done[] {
  const when = performedWhen(procedure.located.resource);
  const { side } = procedure;
  const sides =
    side.kind === 'sides' ? side.sides.map((one) => ({ kind: 'sides' as const, sides: [one] })) : [side];
  return sides.map((one) => ({ ...procedure, ...when, side: one }));
}

function arthroplastyKind(kind: OperationKind | undefined): ArthroplastyKind | undefined {
  return KINDS.find((known) => known === kind);
}

function arthroplasty(procedure: Done, hasRemoval: (one: Done) => boolean): readonly PastArthroplasty[] {
  const { name, side, operation, date, span } = procedure;
  if (!operation) return [];
  const exchanged = procedure.roles.has('replacement') && hasRemoval(procedure);
  const kind = exchanged ? 'revision' : arthroplastyKind(operation.kind);
  if (kind === undefined) return [];
  const when = date !== undefined && span && { date, span };
  return [{ name, side, kind, status: 'completed', by: operation.by, ...when }];
}

/** Of the other operations only a partial replacement puts in what a total one does. */
function otherReplacement({ name, side, operation, roles, span }: Done): readonly OtherReplacement[] {
  if (operation?.kind !== 'other-hip') return [];
  return [{ name, side, isPartial: roles.has('replacement'), ...(span && { span }) }];
}

/**
 * Tells whether one of these was done at the same hip, in the same Procedure or in another of the same day: an old
 * implant taken out beside a new one, and the other way around. Looked up, because a record may hold thousands.
 */
function besideOnThatDay(those: readonly Done[]): (one: Done) => boolean {
  const known = new Set(those.flatMap(placesOf));
  return (one) => placesOf(one).some((place) => known.has(place));
}

/** A hip in a Procedure, and a hip on a day. */
function placesOf(one: Done): readonly string[] {
  if (one.side.kind !== 'sides') return [];
  const [hip] = one.side.sides;
  const day = dayOf(one);
  const inProcedure = JSON.stringify([hip, 'in', one.name]);
  return day === undefined ? [inProcedure] : [inProcedure, JSON.stringify([hip, 'on', day])];
}

function isSameHip(a: SideReading, b: SideReading): boolean {
  return a.kind === 'sides' && b.kind === 'sides' && a.sides[0] === b.sides[0];
}

/** The calendar day as recorded; a date without a day is the same day as none. */
function dayOf({ date }: { readonly date?: string }): string | undefined {
  return date !== undefined && date.length >= DAY_LENGTH ? date.slice(0, DAY_LENGTH) : undefined;
}

const DAY_LENGTH = 'yyyy-mm-dd'.length;

/**
 * One hip is replaced once a day: of several entries for one day the kind that says most counts, because the new
 * implant of a revision carries the same ICD-10-PCS code as a first one.
 */
function oncePerDay(all: readonly PastArthroplasty[]): readonly PastArthroplasty[] {
  const ranked = [...all].sort((a, b) => KINDS.indexOf(a.kind) - KINDS.indexOf(b.kind));
  return firstOfEachDay(ranked).sort(byDateAndName);
}

/** Of several entries for one day of one hip the first; one without a day, or without a hip, is of no day. */
function firstOfEachDay<Entry extends PastArthroplasty | ClosedReduction>(
  entries: readonly Entry[],
): Entry[] {
  const seen = new Set<string>();
  return entries.filter((entry) => {
    const day = dayOf(entry);
    if (day === undefined || entry.side.kind !== 'sides') return true;
    const place = `${entry.side.sides[0] ?? ''} ${day}`;
    const isFirst = !seen.has(place);
    seen.add(place);
    return isFirst;
  });
}

function byDateAndName(a: PastArthroplasty | ClosedReduction, b: PastArthroplasty | ClosedReduction): number {
  return (
    (a.span?.from ?? -Infinity) - (b.span?.from ?? -Infinity) ||
    compareText(a.name, b.name) ||
    compareText(canonicalJson(a.side), canonicalJson(b.side))
  );
}

function closedReductions(done: readonly Done[]): readonly ClosedReduction[] {
  const all = done
    .filter(({ roles }) => roles.has('closed-reduction') || roles.has('native-reduction'))
    .map((procedure) => closedReduction(procedure, done))
    .sort((a, b) => compareText(a.joint, b.joint) || byDateAndName(a, b));
  return firstOfEachDay(all).sort(byDateAndName);
}

/** Coders use the code for a native joint for a prosthesis too: it is one when that hip was replaced, in part or wholly. */
function closedReduction(procedure: Done, done: readonly Done[]): ClosedReduction {
  const { name, side, roles, date, span } = procedure;
  const replaced = done.some(
    (other) =>
      other.operation !== undefined &&
      isSameHip(other.side, side) &&
      (!other.span || !span || other.span.from <= span.to),
  );
  return {
    name,
    side,
    joint: roles.has('closed-reduction') || replaced ? 'prosthesis' : 'unclear',
    ...(date !== undefined && span && { date, span }),
  };
}

/** A removal alone is half of an exchange, or a spacer stage coded otherwise: it is told, and counted as neither. */
function lonelyRemovals(done: readonly Done[]): readonly Note[] {
  const hasReplacement = besideOnThatDay(done.filter(({ roles }) => roles.has('replacement')));
  return done
    .filter((removal) => removal.roles.has('removal') && !hasReplacement(removal))
    .map(({ name }) => ({
      from: name,
      why: 'removal of a hip prosthesis without a replacement of the same hip on that day, not counted as a revision',
    }));
}
