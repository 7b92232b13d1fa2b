import type { ConstructKind, Hip } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import type { PatientRecord } from '../../src/facts/patient-record.js';
import { readRecord } from '../../src/facts/read-record.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';
import { CODE, NOW, PATIENT, concept, searchset, snomed } from './records.js';

/** A whole record, read as at an opened chart or at signing, with every set a service may read. */

const BASE = 'https://kotyle.example/fhir/CodeSystem';
export const MEASURE = `${BASE}/hip-measure`;
export const VALUE = `${BASE}/hip-measure-value`;
export const SERVER = 'https://record.example/fhir';

const KEYS = [
  'patient',
  'encounter',
  'conditions',
  'procedures',
  'measures',
  'observations',
  'devices',
  'deviceUses',
  'serviceRequests',
  'deviceRequests',
  'questionnaireResponses',
  'appointments',
] as const;
type Key = (typeof KEYS)[number];

export type Sets = Partial<Record<Key, readonly JsonObject[]>>;

export function prefetchOf(sets: Sets): JsonObject {
  return Object.fromEntries(
    KEYS.filter((key) => key !== 'patient' && key !== 'encounter').map((key) => [
      key,
      searchset(...(sets[key] ?? [])),
    ]),
  );
}

function recordOf(
  hook: 'patient-view' | 'order-sign',
  context: JsonObject,
  prefetch: JsonObject,
): PatientRecord {
  return readRecord({
    hook,
    context,
    prefetch: { patient: { resourceType: 'Patient', id: 'p' }, ...prefetch },
    keys: KEYS,
    identity: { patientId: 'p', fhirServer: SERVER },
    now: NOW,
    knowledge: shipped.knowledge,
  });
}

export function chart(sets: Sets, more: JsonObject = {}): PatientRecord {
  return recordOf('patient-view', {}, { ...prefetchOf(sets), ...more });
}

export function signing(drafts: readonly JsonObject[], sets: Sets = {}): PatientRecord {
  return recordOf('order-sign', { draftOrders: searchset(...drafts) }, prefetchOf(sets));
}

export function factOf(
  record: PatientRecord,
  id: string,
  hip: Hip = 'left',
  construct: ConstructKind = 'in-place',
): Fact | undefined {
  return record.hips.find((one) => one.hip === hip && one.construct === construct)?.facts.get(id);
}

/** The interval of a quantity as `[low, high]`, a code list, a flag, or the reason for not knowing. */
export function valueOf(fact: Fact | undefined): unknown {
  if (!fact) return 'no such hip';
  const { state } = fact;
  if (state.status === 'unknown') return state.reason;
  if (state.status === 'absent') return 'absent';
  switch (state.value.kind) {
    case 'quantity':
      return [state.value.interval.low, state.value.interval.high];
    case 'code':
      return state.value.codes;
    case 'flag':
      return state.value.flag;
    case 'recorded':
      return state.value.texts;
  }
}

export function replacement(side: 'left' | 'right', more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id: `replaced-${side}`,
    status: 'completed',
    subject: PATIENT,
    code: snomed(CODE.totalHip),
    bodySite: [snomed(side === 'left' ? CODE.leftHipSite : CODE.rightHipSite)],
    performedDateTime: '2019-05-06',
    ...more,
  };
}

/** A property of an implant: a quantity, or a code of ours. */
export function property(measure: string, value: readonly [number, string] | string): JsonObject {
  const type = concept(MEASURE, measure);
  if (typeof value === 'string') return { type, valueCode: [concept(VALUE, value)] };
  const [number, code] = value;
  return {
    type,
    valueQuantity: [{ value: number, unit: code, system: 'http://unitsofmeasure.org', code }],
  };
}

export function device(id: string, properties: readonly JsonObject[], more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Device',
    id,
    status: 'active',
    type: snomed('304121006'),
    patient: PATIENT,
    property: properties,
    ...more,
  };
}
