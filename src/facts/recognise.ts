import { compareText, sortedUnique } from '../base/order.js';
import type { DataSet } from '../fhir/bundle.js';
import { nameOf, namesOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import type { DataFinding, Hip, Side } from './definitions.js';
import type { RecordInput } from './read-record.js';
import type { Note } from './readings.js';
import { contextEntries, readRequest } from './recognition.js';
import { isLive, readAppointment } from './appointments.js';
import type { AppointmentOutcome } from './appointments.js';
import type { PlannedOperation, RequestOutcome, RequestReading } from './recognition.js';

export interface Requests {
  /** Orders being drafted or signed now. */
  readonly drafted: readonly RequestReading[];
  /** Every hip order seen, drafted ones first. */
  readonly all: readonly RequestReading[];
  readonly byName: ReadonlyMap<string, RequestOutcome>;
  readonly findings: readonly DataFinding[];
  readonly notes: readonly Note[];
}

export function readRequests(input: RecordInput, own: ReadonlyMap<string, DataSet>): Requests {
  const context = { knowledge: input.knowledge, identity: input.identity };
  const drafts =
    input.hook === 'order-sign' ? contextEntries(input.context['draftOrders']) : visitEntries(input);
  const isDraft = input.hook === 'order-sign';
  const draftNames = new Set(drafts.map(nameOf));
  const recorded = (own.get('serviceRequests')?.resources ?? []).filter(
    (located) => !draftNames.has(nameOf(located)),
  );
  const byName = new Map<string, RequestOutcome>();
  const findings: DataFinding[] = [];
  const notes: Note[] = [];
  const read = (located: Located, drafted: boolean): readonly RequestReading[] => {
    const outcome = readRequest(located, drafted, context);
    for (const name of namesOf(located, input.identity.fhirServer)) byName.set(name, outcome);
    if (outcome.kind === 'finding') {
      notes.push(outcome.note);
      // An unreadable order in the background is noted; the one at hand is worth a word.
      if (drafted || outcome.finding.kind === 'other-patient') findings.push(outcome.finding);
    }
    return outcome.kind === 'request' ? [outcome.request] : [];
  };
  const now = drafts.flatMap((located) => read(located, isDraft));
  const before = recorded.flatMap((located) => read(located, false));
  return { drafted: isDraft ? now : [], all: [...now, ...before], byName, findings, notes };
}

/** Requests that came inside the appointment Bundle. */
function visitEntries(input: RecordInput): readonly Located[] {
  return contextEntries(input.context['appointments']).filter(
    ({ resource }) => resource['resourceType'] === 'ServiceRequest',
  );
}

export interface Recognition {
  readonly recognised: 'yes' | 'no' | 'unknown';
  readonly operations: readonly PlannedOperation[];
  readonly findings: readonly DataFinding[];
  readonly unresolved: readonly string[];
}

export function recognise(
  input: RecordInput,
  own: ReadonlyMap<string, DataSet>,
  requests: Requests,
): Recognition {
  if (input.hook === 'order-sign') {
    const operations = requests.drafted.filter(({ open }) => open).map(({ operation }) => operation);
    return {
      recognised: operations.length > 0 ? 'yes' : 'no',
      operations: sortOperations(operations),
      findings: [],
      unresolved: [],
    };
  }
  const context = { knowledge: input.knowledge, identity: input.identity };
  const entries = contextEntries(input.context['appointments']);
  const procedures = new Map(
    [...entries, ...(own.get('procedures')?.resources ?? [])].map((located) => [nameOf(located), located]),
  );
  const outcomes: readonly AppointmentOutcome[] = entries
    .filter(({ resource }) => isLive(resource, input.identity))
    .map((located) => readAppointment(located, { requests: requests.byName, procedures }, context));
  const operations = outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.operations : []));
  const unresolved = sortedUnique(
    outcomes.flatMap((outcome) => (outcome.kind === 'maybe' ? outcome.unresolved : [])),
  );
  return {
    recognised: operations.length > 0 ? 'yes' : unresolved.length > 0 ? 'unknown' : 'no',
    operations: sortOperations(operations),
    findings: outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.findings : [])),
    unresolved,
  };
}

function sortOperations(operations: readonly PlannedOperation[]): readonly PlannedOperation[] {
  const byName = new Map(operations.map((operation) => [operation.name, operation]));
  return [...byName.values()].sort((a, b) => compareText(a.name, b.name));
}

/** The hips an evaluation speaks of: each side once; an unsided order only when no side is known at all. */
export function hipsOf(operations: readonly PlannedOperation[]): readonly Hip[] {
  const sides = sortedUnique(operations.flatMap(({ side }) => (side.kind === 'sides' ? side.sides : [])));
  return sides.length > 0 ? (sides as readonly Side[]) : ['unknown'];
}
