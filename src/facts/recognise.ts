import { compareText, sortedUnique } from '../base/order.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { isLive, plannedProcedure, readAppointment } from './appointments.js';
import type { AppointmentOutcome } from './appointments.js';
import type { CallResources } from './call-resources.js';
import type { DataFinding, Hip, Side } from './definitions.js';
import type { Implanted } from './implanted.js';
import type { RecordInput } from './read-record.js';
import type { PlannedOperation } from './recognition.js';
import { orderedSides } from './requests.js';
import type { Requests } from './requests.js';

/** Whether the call is about a hip replacement, and which ones. */
export interface Recognition {
  readonly recognised: 'yes' | 'no' | 'unknown';
  /** Operations planned, ordered or booked. */
  readonly operations: readonly PlannedOperation[];
  /** Replacements already in place. */
  readonly implanted: readonly Implanted[];
  readonly findings: readonly DataFinding[];
  /** References that could not be followed. */
  readonly unresolved: readonly string[];
}

/** What recognition needs besides the orders. */
export interface RecognitionSources {
  readonly resources: CallResources;
  readonly requests: Requests;
  readonly implanted: readonly Implanted[];
}

export function recognise(input: RecordInput, sources: RecognitionSources): Recognition {
  switch (input.hook) {
    case 'order-select':
    case 'order-sign':
      return recogniseOrders(sources);
    case 'appointment-book':
      return recogniseVisits(input, sources);
    case 'patient-view':
      return recogniseChart(input, sources);
  }
}

function recogniseOrders({ requests, implanted }: RecognitionSources): Recognition {
  const operations = requests.acted.filter(({ open }) => open).map(({ operation }) => operation);
  return {
    recognised: operations.length > 0 ? 'yes' : 'no',
    operations: sortOperations(operations),
    implanted,
    findings: [],
    unresolved: [],
  };
}

function recogniseVisits(input: RecordInput, sources: RecognitionSources): Recognition {
  const visits = readVisits(input, sources, sources.resources.visits);
  return {
    recognised: visits.operations.length > 0 ? 'yes' : visits.unresolved.length > 0 ? 'unknown' : 'no',
    implanted: sources.implanted,
    ...visits,
  };
}

/** The chart speaks of a hip that is planned to be replaced or that has been; unknown when nobody looked. */
function recogniseChart(input: RecordInput, sources: RecognitionSources): Recognition {
  const { resources, requests, implanted } = sources;
  const visits = readVisits(input, sources, resources.sets.get('appointments')?.resources ?? []);
  const context = { knowledge: input.knowledge, identity: input.identity };
  const prepared = (resources.sets.get('procedures')?.resources ?? []).flatMap(
    (located) => plannedProcedure(located, context) ?? [],
  );
  // Implants asked for plan no operation by themselves: here only the order for one does.
  const ordered = requests.all
    .filter(({ open, forDevice }) => open && !forDevice)
    .map(({ operation }) => operation);
  const operations = sortOperations([...ordered, ...prepared, ...visits.operations]);
  const found = operations.length > 0 || implanted.length > 0;
  return {
    recognised: found ? 'yes' : nobodyLooked(resources) ? 'unknown' : 'no',
    operations,
    implanted,
    findings: visits.findings,
    unresolved: visits.unresolved,
  };
}

function nobodyLooked({ sets }: CallResources): boolean {
  return ['serviceRequests', 'procedures', 'conditions'].every((key) => {
    const status = sets.get(key)?.status;
    return status === 'absent' || status === 'failed';
  });
}

function readVisits(
  input: RecordInput,
  { resources, requests }: RecognitionSources,
  visits: readonly Located[],
): Pick<Recognition, 'operations' | 'findings' | 'unresolved'> {
  const context = { knowledge: input.knowledge, identity: input.identity };
  const known = [...visits, ...(resources.sets.get('procedures')?.resources ?? [])];
  const procedures = new Map(known.map((located) => [nameOf(located), located]));
  const outcomes: readonly AppointmentOutcome[] = visits
    .filter(({ resource }) => isLive(resource, input.identity))
    .map((located) => readAppointment(located, { requests: requests.byName, procedures }, context));
  const unresolved = outcomes.flatMap((outcome) => (outcome.kind === 'maybe' ? outcome.unresolved : []));
  return {
    operations: sortOperations(
      outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.operations : [])),
    ),
    findings: outcomes.flatMap((outcome) => (outcome.kind === 'operation' ? outcome.findings : [])),
    unresolved: sortedUnique(unresolved),
  };
}

function sortOperations(operations: readonly PlannedOperation[]): readonly PlannedOperation[] {
  const byName = new Map(operations.map((operation) => [operation.name, operation]));
  return [...byName.values()].sort((a, b) => compareText(a.name, b.name));
}

/** The hips that operations speak of: each side once; an unsided order only when no side is known at all. */
export function hipsOf(operations: readonly PlannedOperation[]): readonly Hip[] {
  if (operations.length === 0) return [];
  const sides = orderedSides(operations);
  return sides.length > 0 ? sides : ['unknown'];
}

/** The hips with a replacement in place; `unknown` when one is known to exist and its side is not. */
export function implantedHips(implanted: readonly Implanted[]): readonly Hip[] {
  if (implanted.length === 0) return [];
  const sides = sortedUnique(implanted.flatMap(({ side }) => (side.kind === 'sides' ? side.sides : [])));
  return sides.length > 0 ? (sides as readonly Side[]) : ['unknown'];
}
