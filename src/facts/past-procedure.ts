import { readFhirDate } from '../base/dates.js';
import type { Span } from '../base/dates.js';
import { hasUnknownModifier } from '../fhir/codings.js';
import { asObject, asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import {
  contradiction,
  dateProblem,
  isAtHip,
  isIrrelevant,
  isReadable,
  knownCodings,
  sidesIn,
  unreadable,
} from './diagnosis.js';
import type { Diagnosis, DiagnosisContext, DiagnosisReading } from './diagnosis.js';
import { sideOf } from './laterality.js';

/** Statuses of R4 under which nothing was done, or not to the end: such a Procedure is no history. */
const NOT_DONE: ReadonlySet<unknown> = new Set([
  'preparation',
  'in-progress',
  'not-done',
  'on-hold',
  'stopped',
  'entered-in-error',
]);

/** Why a Procedure is no history at all; undefined for one that was done, or may have been. */
export function notDone({ status }: JsonObject): string | undefined {
  return typeof status === 'string' && NOT_DONE.has(status) ? `procedure status ${status}` : undefined;
}

/** Why nobody can say whether a Procedure was done: its status is missing or unknown, or a modifier may turn it around. */
export function doubtful(resource: JsonObject): string | undefined {
  if (hasUnknownModifier(resource)) return 'carries a modifier this service does not know';
  const { status } = resource;
  if (status === 'completed') return undefined;
  return status === 'unknown' ? 'procedure status unknown' : 'procedure status not readable';
}

/** When a Procedure was done: a moment, or the end of a period, else its start. */
export function performedDate(resource: JsonObject): string | undefined {
  const period = asObject(resource['performedPeriod']);
  return asText(resource['performedDateTime']) ?? asText(period?.['end']) ?? asText(period?.['start']);
}

/** A readable date of a Procedure, with the instants it may mean. */
export function performedWhen(
  resource: JsonObject,
): { readonly date: string; readonly span: Span } | undefined {
  const date = performedDate(resource);
  const span = readFhirDate(date);
  return date !== undefined && span ? { date, span } : undefined;
}

/** Reads one Procedure as history: what was once done to this patient. */
export function readPastProcedure(located: Located, context: DiagnosisContext): DiagnosisReading {
  const { resource } = located;
  const { knowledge } = context;
  const codings = knownCodings(resource['code'], knowledge);
  if (isIrrelevant(codings)) return { kind: 'nothing' };
  const from = nameOf(located);
  const why = notDone(resource);
  if (why !== undefined) return { kind: 'rejected', note: { from, why } };
  if (!isReadable(codings)) return unreadable(from, codings);
  const date = performedDate(resource);
  const side = sideOf(resource, knowledge.laterality, knowledge.aliases);
  const unusable = doubtful(resource) ?? dateProblem(date, context.now);
  const diagnosis: Diagnosis = {
    from,
    source: 'procedures',
    codings,
    when: 'past',
    atHip: isAtHip(resource, knowledge),
    ...(unusable !== undefined && { unusable }),
    ...sidesIn(side),
    ...(date !== undefined && { date }),
  };
  const findings = side.kind === 'conflict' ? [contradiction(from, 'earlier procedure')] : [];
  return { kind: 'diagnosis', diagnosis, findings };
}
