import { canonicalJson } from '../base/canonical-json.js';
import { byText } from '../base/order.js';
import { codingsOf, codingsOfAll, hasUnknownModifier } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf, namesOf, normaliseReference, referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { namesPatient, ownershipOf } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import type { DataFinding, Hip, Side } from './definitions.js';
import type { FactKnowledge, OperationKind } from './knowledge.js';
import type { SideReading } from './laterality.js';
import { sideOf } from './laterality.js';
import type { Note } from './readings.js';

/** A hip operation asked for, by which coding of which resource. */
export interface PlannedOperation {
  readonly name: string;
  /** Every name under which a plan may say that it belongs to this order. */
  readonly names: readonly string[];
  readonly kind: OperationKind;
  readonly side: SideReading;
  readonly by: Required<Coding>;
  readonly encounter: string | undefined;
}

/** A request reduced to what recognition asks of it. */
export interface RequestReading {
  readonly operation: PlannedOperation;
  readonly open: boolean;
}

export interface RecognitionContext {
  readonly knowledge: FactKnowledge;
  readonly identity: PatientIdentity;
}

export type RequestOutcome =
  | { readonly kind: 'request'; readonly request: RequestReading }
  | { readonly kind: 'not-a-hip-operation' }
  | { readonly kind: 'finding'; readonly finding: DataFinding; readonly note: Note };

const OPEN: ReadonlySet<unknown> = new Set(['draft', 'active', 'on-hold']);
const DEAD: ReadonlySet<unknown> = new Set(['revoked', 'completed', 'entered-in-error']);

/**
 * Reads one ServiceRequest. In draft orders any status but revoked, completed and entered in error is open (a signed
 * order may come back under another one); in the record only draft, active and on-hold are.
 */
export function readRequest(located: Located, drafted: boolean, context: RecognitionContext): RequestOutcome {
  const { resource } = located;
  if (resource['resourceType'] !== 'ServiceRequest') return { kind: 'not-a-hip-operation' };
  const codings = codingsOf(resource['code'], context.knowledge.aliases);
  const match = operationOf(codings, context.knowledge.operations, context.knowledge);
  if (!match) return looksLikeOne(located, codings, context);
  const owner = ownershipOf(resource, context.identity);
  if (owner === 'other') return finding(located, 'other-patient', 'an order names another patient');
  const problem = unusableOrder(resource, owner, drafted);
  if (problem !== undefined) return finding(located, 'order-unreadable', `hip order ${problem}`);
  const encounter = referenceOf(resource['encounter']);
  const operation: PlannedOperation = {
    name: nameOf(located),
    names: namesOf(located, context.identity.fhirServer),
    kind: match.kind,
    side: sideOf(resource, context.knowledge.laterality, context.knowledge.aliases),
    by: match.by,
    encounter:
      encounter === undefined ? undefined : normaliseReference(encounter, context.identity.fhirServer),
  };
  const { status } = resource;
  const open =
    (drafted ? !DEAD.has(status) : OPEN.has(status)) &&
    resource['intent'] !== 'option' &&
    resource['doNotPerform'] !== true;
  return { kind: 'request', request: { operation, open } };
}

/** An order that would be a hip replacement, had it been written so that a code could be matched. */
function looksLikeOne(
  located: Located,
  codings: readonly Coding[],
  context: RecognitionContext,
): RequestOutcome {
  const { knowledge } = context;
  const bare = codings.find(
    (coding) =>
      coding.system === undefined && coding.code !== undefined && hasBareMatch(coding.code, knowledge),
  );
  if (bare) return finding(located, 'order-unreadable', 'hip order code without a code system, not matched');
  const sites = codingsOfAll(located.resource['bodySite'], knowledge.aliases);
  const atHip = sites.some(
    (site) =>
      site.code !== undefined &&
      (knowledge.laterality.hipSites.has(site.code) || knowledge.laterality.sidedSites.has(site.code)),
  );
  const uncoded = !codings.some((coding) => coding.code !== undefined);
  return uncoded && atHip
    ? finding(located, 'order-unreadable', 'order at the hip without a code')
    : { kind: 'not-a-hip-operation' };
}

function hasBareMatch(code: string, knowledge: FactKnowledge): boolean {
  const sets = knowledge.valueSets.setsOf({ system: 'http://snomed.info/sct', code });
  return [...sets].some((id) => knowledge.operations.has(id));
}

function unusableOrder(
  resource: JsonObject,
  owner: 'same' | 'unstated',
  drafted: boolean,
): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  if (owner === 'unstated' && drafted) return 'names no patient';
  return undefined;
}

function finding(located: Located, kind: 'other-patient' | 'order-unreadable', text: string): RequestOutcome {
  const from = nameOf(located);
  return {
    kind: 'finding',
    finding: { kind, hip: 'any', construct: 'any', text, from: [from] },
    note: { from, why: text },
  };
}

const KIND_ORDER: readonly OperationKind[] = [
  'revision',
  'conversion',
  'primary',
  'unspecified',
  'other-hip',
];

/** The kind of hip operation a list of codings names; a revision outranks what it replaces. */
export function operationOf(
  codings: readonly Coding[],
  operations: ReadonlyMap<string, OperationKind>,
  knowledge: FactKnowledge,
): { readonly kind: OperationKind; readonly by: Required<Coding> } | undefined {
  const found = codings.flatMap((coding) => {
    const { system, code } = coding;
    if (system === undefined || code === undefined) return [];
    return [...knowledge.valueSets.setsOf(coding)].flatMap((id) => {
      const kind = operations.get(id);
      return kind === undefined ? [] : [{ kind, by: { system, code } }];
    });
  });
  return found.sort(
    (a, b) =>
      KIND_ORDER.indexOf(a.kind) - KIND_ORDER.indexOf(b.kind) ||
      byText((item: typeof a) => canonicalJson(item.by))(a, b),
  )[0];
}

export type AppointmentOutcome =
  | {
      readonly kind: 'operation';
      readonly operations: readonly PlannedOperation[];
      readonly findings: readonly DataFinding[];
    }
  | { readonly kind: 'maybe'; readonly unresolved: readonly string[] }
  | { readonly kind: 'no' };

const ENDED: ReadonlySet<unknown> = new Set(['cancelled', 'noshow', 'entered-in-error', 'fulfilled']);

/** A live appointment: not cancelled, missed or done, and the patient is among the participants. */
export function isLive(appointment: JsonObject, identity: PatientIdentity): boolean {
  if (appointment['resourceType'] !== 'Appointment' || ENDED.has(appointment['status'])) return false;
  if (hasUnknownModifier(appointment)) return false;
  const actors = objectsIn(appointment['participant']).flatMap(
    (participant) => referenceOf(participant['actor']) ?? [],
  );
  return actors.some((actor) => namesPatient(actor, identity));
}

/** What the references of an appointment were resolved to. */
export interface ResolvedReferences {
  readonly requests: ReadonlyMap<string, RequestOutcome>;
  readonly procedures: ReadonlyMap<string, Located>;
}

/** Recognises one live appointment: by its own codes, by the open order it is based on, or by a planned procedure. */
export function readAppointment(
  located: Located,
  resolved: ResolvedReferences,
  context: RecognitionContext,
): AppointmentOutcome {
  const { resource } = located;
  const contained = containedRequests(resource, context);
  const based = objectsIn(resource['basedOn']).flatMap((element) => target(element, context));
  const reasons = objectsIn(resource['reasonReference']).flatMap((element) => target(element, context));
  const requests = based.flatMap((name) => contained.get(name) ?? resolved.requests.get(name) ?? []);
  const ordered = requests.flatMap((outcome) =>
    outcome.kind === 'request' && outcome.request.open ? [outcome.request.operation] : [],
  );
  const procedures = reasons.flatMap(
    (name) => plannedProcedure(resolved.procedures.get(name), context) ?? [],
  );
  const coded = codedOperation(located, context);
  const operations = [...ordered, ...procedures, ...(coded ? [coded] : [])];
  if (operations.length > 0) return { kind: 'operation', ...reconcile(located, operations) };
  const unresolved = [
    ...based.filter((name) => !contained.has(name) && !resolved.requests.has(name)),
    ...reasons.filter((name) => name.startsWith('Procedure/') && !resolved.procedures.has(name)),
  ];
  return unresolved.length > 0 ? { kind: 'maybe', unresolved } : { kind: 'no' };
}

function target(element: JsonObject, context: RecognitionContext): readonly string[] {
  const reference = referenceOf(element);
  return reference === undefined ? [] : [normaliseReference(reference, context.identity.fhirServer)];
}

function containedRequests(
  resource: JsonObject,
  context: RecognitionContext,
): ReadonlyMap<string, RequestOutcome> {
  const map = new Map<string, RequestOutcome>();
  for (const inner of objectsIn(resource['contained'])) {
    const id = asText(inner['id']);
    if (id !== undefined)
      map.set(`#${id}`, readRequest({ resource: inner, fullUrl: `#${id}` }, false, context));
  }
  return map;
}

function plannedProcedure(
  located: Located | undefined,
  context: RecognitionContext,
): PlannedOperation | undefined {
  if (
    !located ||
    located.resource['resourceType'] !== 'Procedure' ||
    located.resource['status'] !== 'preparation'
  )
    return undefined;
  const match = operationOf(
    codingsOf(located.resource['code'], context.knowledge.aliases),
    context.knowledge.operations,
    context.knowledge,
  );
  if (!match || hasUnknownModifier(located.resource)) return undefined;
  return {
    name: nameOf(located),
    names: namesOf(located, context.identity.fhirServer),
    ...match,
    side: sideOf(located.resource, context.knowledge.laterality, context.knowledge.aliases),
    encounter: undefined,
  };
}

function codedOperation(located: Located, context: RecognitionContext): PlannedOperation | undefined {
  const { resource } = located;
  const { knowledge } = context;
  const codings = [
    ...codingsOfAll(resource['serviceType'], knowledge.aliases),
    ...codingsOf(resource['appointmentType'], knowledge.aliases),
    ...codingsOfAll(resource['reasonCode'], knowledge.aliases),
  ];
  const match = operationOf(
    codings,
    new Map([...knowledge.operations, ...knowledge.appointmentOperations]),
    knowledge,
  );
  if (!match) return undefined;
  // An appointment has no body site: its only side is one that a code itself states.
  const side = sideOf({ code: { coding: codings } }, knowledge.laterality, knowledge.aliases);
  return { name: nameOf(located), names: [nameOf(located)], ...match, side, encounter: undefined };
}

/** An appointment that states no side takes that of its order; one that states another one contradicts it. */
function reconcile(
  located: Located,
  operations: readonly PlannedOperation[],
): { readonly operations: readonly PlannedOperation[]; readonly findings: readonly DataFinding[] } {
  const own = operations.filter((operation) => operation.name === nameOf(located));
  const others = operations.filter((operation) => operation.name !== nameOf(located));
  const visit = own[0];
  if (!visit || others.length === 0) return { operations, findings: [] };
  if (visit.side.kind !== 'sides') return { operations: others, findings: [] };
  const { sides } = visit.side;
  const clash = others.find((order) => order.side.kind === 'sides' && !sameSides(order.side.sides, sides));
  if (!clash || clash.side.kind !== 'sides') return { operations: [...others, visit], findings: [] };
  const text = `the visit says ${sides.join(' and ')}, its order says ${clash.side.sides.join(' and ')}`;
  const hips: readonly Hip[] = [...new Set<Side>([...clash.side.sides, ...sides])];
  const findings = hips.map((hip) => ({
    kind: 'side-conflict' as const,
    hip,
    construct: 'any' as const,
    text,
    from: [nameOf(located), clash.name].sort(),
  }));
  return { operations, findings };
}

function sameSides(a: readonly Side[], b: readonly Side[]): boolean {
  return a.length === b.length && a.every((side) => b.includes(side));
}

/** Orders and appointments are also read when nothing else is: the entries of a context Bundle, or of an array. */
export function contextEntries(value: unknown): readonly Located[] {
  const bundle = asObject(value);
  return objectsIn(bundle?.['entry']).flatMap((entry) => {
    const resource = asObject(entry['resource']);
    if (!resource) return [];
    const fullUrl = asText(entry['fullUrl']);
    return [{ resource, ...(fullUrl !== undefined && { fullUrl }) }];
  });
}
