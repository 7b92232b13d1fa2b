import { pino } from 'pino';
import type { DataSet } from '../../../src/fhir/bundle.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { newRecordReader } from '../../../src/server/fallback/record-reader.js';
import type {
  RecordReader,
  RecordReaderOptions,
  RecordSession,
} from '../../../src/server/fallback/record-reader.js';
import type { SetQuery } from '../../../src/server/fallback/set-query.js';

/** Looked for in logs and at other servers: it must not be there. */
export const TOKEN = 'Zqxtoken';
export const PATIENT_ID = 'Zqxpatient';
/** Far beyond what anything here takes: where success is expected, time is no part of the question. */
export const AMPLE_MS = 20_000;

const subject = { reference: `Patient/${PATIENT_ID}` };
const GROUP = 'https://kotyle.example/fhir/CodeSystem/measure-group';
const PLAN = 'https://kotyle.example/fhir/Questionnaire/hip-plan';
const LOINC = 'http://loinc.org';
const patient = `patient=${PATIENT_ID}`;

/** Every set of integration decisions section 2, with the tokens of its template filled in. */
export const QUERIES: readonly SetQuery[] = [
  { key: 'patient', url: `Patient/${PATIENT_ID}` },
  { key: 'user', url: 'PractitionerRole/surgeon' },
  { key: 'encounter', url: 'Encounter/visit' },
  { key: 'conditions', url: `Condition?${patient}` },
  { key: 'procedures', url: `Procedure?${patient}` },
  { key: 'measures', url: `Observation?${patient}&category=${GROUP}|hip-stability` },
  { key: 'observations', url: `Observation?${patient}&code=${LOINC}|1988-5,${LOINC}|29463-7` },
  { key: 'devices', url: `Device?${patient}` },
  { key: 'deviceUses', url: `DeviceUseStatement?${patient}` },
  { key: 'serviceRequests', url: `ServiceRequest?${patient}&status=draft,active,on-hold` },
  { key: 'deviceRequests', url: `DeviceRequest?${patient}&status=draft,active,on-hold` },
  { key: 'questionnaireResponses', url: `QuestionnaireResponse?${patient}&questionnaire=${PLAN}` },
  { key: 'appointments', url: `Appointment?${patient}&status=proposed,pending,booked` },
];

export const READS: readonly string[] = ['patient', 'user', 'encounter'];

/** What each of those sets holds, worked out by hand from the resources below. */
export const EXPECTED: Readonly<Record<string, readonly string[]>> = {
  patient: [PATIENT_ID],
  user: ['surgeon'],
  encounter: ['visit'],
  conditions: ['condition-active', 'condition-resolved'],
  procedures: ['procedure-done', 'procedure-planned'],
  measures: ['measure-plan'],
  observations: ['crp', 'weight'],
  devices: ['cup'],
  deviceUses: ['cup-use'],
  serviceRequests: ['order-active', 'order-draft', 'order-held'],
  deviceRequests: ['head-order'],
  questionnaireResponses: ['plan', 'plan-versioned'],
  appointments: ['visit-booked'],
};

const observation = (id: string, status: string, system: string, code: string): JsonObject => ({
  resourceType: 'Observation',
  id,
  status,
  subject,
  code: { coding: [{ system, code }] },
});
const request = (resourceType: string, id: string, status: string): JsonObject => ({
  resourceType,
  id,
  status,
  intent: 'order',
  subject,
  ...(resourceType === 'DeviceRequest' && { codeCodeableConcept: { text: 'a head' } }),
});
const condition = (id: string, code: string): JsonObject => ({
  resourceType: 'Condition',
  id,
  subject,
  clinicalStatus: {
    coding: [{ system: 'http://terminology.hl7.org/CodeSystem/condition-clinical', code }],
  },
});
const planForm = (id: string, questionnaire: string): JsonObject => ({
  resourceType: 'QuestionnaireResponse',
  id,
  status: 'completed',
  subject,
  questionnaire,
});
const appointment = (id: string, status: string): JsonObject => ({
  resourceType: 'Appointment',
  id,
  status,
  participant: [{ actor: subject, status: 'accepted' }],
});

/** One patient with something in every set, something beside every set, and a second patient. */
export const RESOURCES: readonly JsonObject[] = [
  { resourceType: 'Patient', id: PATIENT_ID },
  { resourceType: 'PractitionerRole', id: 'surgeon' },
  { resourceType: 'Encounter', id: 'visit', status: 'in-progress', class: { code: 'AMB' }, subject },
  condition('condition-active', 'active'),
  condition('condition-resolved', 'resolved'),
  { resourceType: 'Procedure', id: 'procedure-done', status: 'completed', subject },
  { resourceType: 'Procedure', id: 'procedure-planned', status: 'preparation', subject },
  {
    ...observation('measure-plan', 'preliminary', 'https://kotyle.example/fhir/CodeSystem/measure', 'cup'),
    category: [{ coding: [{ system: GROUP, code: 'hip-stability' }] }],
  },
  observation('crp', 'final', LOINC, '1988-5'),
  observation('weight', 'amended', LOINC, '29463-7'),
  observation('sodium', 'final', LOINC, '2951-2'),
  { resourceType: 'Device', id: 'cup', status: 'active', patient: subject },
  {
    resourceType: 'DeviceUseStatement',
    id: 'cup-use',
    status: 'active',
    subject,
    device: { reference: 'Device/cup' },
  },
  request('ServiceRequest', 'order-active', 'active'),
  request('ServiceRequest', 'order-draft', 'draft'),
  request('ServiceRequest', 'order-held', 'on-hold'),
  request('ServiceRequest', 'order-done', 'completed'),
  request('DeviceRequest', 'head-order', 'draft'),
  planForm('plan', PLAN),
  planForm('plan-versioned', `${PLAN}|1.0.0`),
  planForm('other-form', 'https://kotyle.example/fhir/Questionnaire/another'),
  appointment('visit-booked', 'booked'),
  appointment('visit-cancelled', 'cancelled'),
  { resourceType: 'Patient', id: 'somebody-else' },
  { ...condition('condition-elsewhere', 'active'), subject: { reference: 'Patient/somebody-else' } },
];

/** Conditions of the patient, as many as wanted. */
export function manyConditions(count: number): readonly JsonObject[] {
  return Array.from({ length: count }, (_unused, index) => condition(`condition-${index}`, 'active'));
}

export function readerFor(base: string, options: Partial<RecordReaderOptions> = {}): RecordReader {
  return newRecordReader({
    allowed: [base],
    budgetMs: AMPLE_MS,
    log: pino({ level: 'silent' }),
    ...options,
  });
}

/** Opens the reading for one call; fails when the server is not allow-listed. */
export function open(reader: RecordReader, base: string, scopes?: string): RecordSession {
  const access = { fhirServer: base, accessToken: TOKEN };
  const session = reader.open(scopes === undefined ? access : { ...access, scopes });
  if (!session) throw new Error('expected an allow-listed server');
  return session;
}

export function queriesOf(...keys: readonly string[]): readonly SetQuery[] {
  return QUERIES.filter(({ key }) => keys.includes(key));
}

export function idsOf(set: DataSet | undefined): readonly string[] {
  return (set?.resources ?? []).map(({ resource }) => String(resource['id'])).sort();
}

/** The ids of every set, by key. */
export function allIds(sets: ReadonlyMap<string, DataSet>): Readonly<Record<string, readonly string[]>> {
  return Object.fromEntries([...sets].map(([key, set]) => [key, idsOf(set)]));
}

/** Status and reason of every set, by key. */
export function states(sets: ReadonlyMap<string, DataSet>): Readonly<Record<string, string>> {
  return Object.fromEntries(
    [...sets].map(([key, set]) => [
      key,
      set.status === 'complete' ? 'complete' : `${set.status}: ${set.why}`,
    ]),
  );
}
