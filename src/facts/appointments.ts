import { ICD_10_PCS, codingsOf, codingsOfAll, hasUnknownModifier } from '../fhir/codings.js';
import { asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf, namesOf, normaliseReference, referenceOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { namesPatient } from '../fhir/same-patient.js';
import type { PatientIdentity } from '../fhir/same-patient.js';
import type { DataFinding, Hip, Side } from './definitions.js';
import { sideOf } from './laterality.js';
import { operationOf, readRequest, tiesOf } from './recognition.js';
import type { PlannedOperation, RecognitionContext, RequestOutcome } from './recognition.js';

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

export function plannedProcedure(
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
    sideFrom: 'itself',
    ties: tiesOf(located.resource, context.identity.fhirServer),
  };
}

function codedOperation(located: Located, context: RecognitionContext): PlannedOperation | undefined {
  const { resource } = located;
  const { knowledge } = context;
  const codings = [
    ...codingsOfAll(resource['serviceType'], knowledge.aliases),
    ...codingsOf(resource['appointmentType'], knowledge.aliases),
    ...codingsOfAll(resource['reasonCode'], knowledge.aliases),
  ].filter(({ system }) => system !== ICD_10_PCS);
  const match = operationOf(
    codings,
    new Map([...knowledge.operations, ...knowledge.appointmentOperations]),
    knowledge,
  );
  if (!match) return undefined;
  // An appointment has no body site: its only side is one that a code itself states.
  const side = sideOf({ code: { coding: codings } }, knowledge.laterality, knowledge.aliases);
  const ties = tiesOf(located.resource, context.identity.fhirServer);
  return { name: nameOf(located), names: [nameOf(located)], ...match, side, sideFrom: 'itself', ties };
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
