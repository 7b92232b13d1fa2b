import type { ConstructKind, DataFinding, Hip } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import type { HipRecord, PatientRecord } from '../../src/facts/patient-record.js';
import { readRecord } from '../../src/facts/read-record.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { shipped } from '../rulebook/shipped.js';

/** Builders of the resources a record system sends, and one way to read them: as signing a left hip would. */

export const SNOMED = 'http://snomed.info/sct';
export const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
export const UCUM = 'http://unitsofmeasure.org';
export const NOW = Date.parse('2026-11-24T10:00:00Z');
export const PATIENT = { reference: 'Patient/p' };

const BASE = 'https://kotyle.example/fhir/CodeSystem';
const MEASURE = `${BASE}/hip-measure`;
const VALUE = `${BASE}/hip-measure-value`;
const STAGE = `${BASE}/measure-stage`;

/** SNOMED CT codes used throughout, by what they say. */
export const CODE = {
  totalHip: '52734007',
  totalHipLeft: '770606008',
  totalHipRight: '443435007',
  totalHipBoth: '444051004',
  leftHipSite: '287679003',
  rightHipSite: '287579007',
  hipSite: '24136001',
  hipRegion: '29836001',
  left: '7771000',
  right: '24028007',
  both: '51440002',
  plannedReplacement: '183992003',
} as const;

/** A copy without some members. */
export function without(value: JsonObject, ...names: readonly string[]): JsonObject {
  return Object.fromEntries(Object.entries(value).filter(([name]) => !names.includes(name)));
}

export function concept(system: string, ...codes: readonly string[]): JsonObject {
  return { coding: codes.map((code) => ({ system, code })) };
}

export function snomed(...codes: readonly string[]): JsonObject {
  return concept(SNOMED, ...codes);
}

export function order(more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id: 'order',
    status: 'draft',
    intent: 'order',
    code: snomed(CODE.totalHip),
    bodySite: [snomed(CODE.leftHipSite)],
    subject: PATIENT,
    ...more,
  };
}

export function condition(id: string, code: unknown, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Condition',
    id,
    clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', 'active'),
    verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'confirmed'),
    code: typeof code === 'string' ? concept(ICD, code) : code,
    subject: PATIENT,
    onsetDateTime: '2020-05-01',
    ...more,
  };
}

export function clinical(code: string): JsonObject {
  return { clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', code) };
}

export function verified(code: string): JsonObject {
  return { verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', code) };
}

export interface MeasureOptions {
  readonly id?: string;
  /** Stages as categories; `planned` when not given. */
  readonly stages?: readonly string[];
  readonly date?: string;
  /** Qualifying components: codes, or a flag. */
  readonly with?: Readonly<Record<string, string | boolean>>;
  readonly more?: JsonObject;
}

export function quantity(value: unknown, code: string, more: JsonObject = {}): JsonObject {
  return { valueQuantity: { value, unit: code, system: UCUM, code, ...more } };
}

/** An Observation of ours at the left hip. */
export function measure(code: string, value: JsonObject, options: MeasureOptions = {}): JsonObject {
  const { id = code, stages = ['planned'], date = '2026-11-02', more = {} } = options;
  const component = Object.entries(options.with ?? {}).map(([name, given]) => ({
    code: concept(MEASURE, name),
    ...(typeof given === 'boolean'
      ? { valueBoolean: given }
      : { valueCodeableConcept: concept(VALUE, given) }),
  }));
  return {
    resourceType: 'Observation',
    id,
    status: 'final',
    category: [
      ...stages.map((stage) => concept(STAGE, stage)),
      concept(`${BASE}/measure-group`, 'hip-stability'),
      concept('http://terminology.hl7.org/CodeSystem/observation-category', 'imaging'),
    ],
    code: concept(MEASURE, code),
    subject: PATIENT,
    effectiveDateTime: date,
    bodySite: snomed(CODE.leftHipSite),
    ...value,
    ...(component.length > 0 && { component }),
    ...more,
  };
}

export function coded(value: string): JsonObject {
  return { valueCodeableConcept: concept(VALUE, value) };
}

export function searchset(...resources: readonly unknown[]): JsonObject {
  return { resourceType: 'Bundle', type: 'searchset', entry: resources.map((resource) => ({ resource })) };
}

export interface Case {
  readonly hook?: 'order-sign' | 'appointment-book';
  readonly orders?: readonly JsonObject[];
  readonly appointments?: readonly JsonObject[];
  readonly measures?: readonly JsonObject[];
  readonly conditions?: readonly JsonObject[];
  /** Whole prefetch values, in place of those made from the lists above; undefined takes the key away. */
  readonly prefetch?: Readonly<Record<string, unknown>>;
  readonly construct?: ConstructKind;
  readonly fhirServer?: string;
}

const KEYS = ['patient', 'conditions', 'procedures', 'measures', 'observations', 'serviceRequests'] as const;

/** A replacement of each hip, done long ago: what makes the chart look at the construct in place. */
function replacedHips(): readonly JsonObject[] {
  return ['287679003', '287579007'].map((site) => ({
    resourceType: 'Procedure',
    id: `replaced-${site}`,
    status: 'completed',
    subject: { reference: 'Patient/p' },
    code: { coding: [{ system: 'http://snomed.info/sct', code: '52734007' }] },
    bodySite: [{ coding: [{ system: 'http://snomed.info/sct', code: site }] }],
    performedDateTime: '2011-03-01',
  }));
}

export function read(given: Case): PatientRecord {
  const inPlace = given.construct === 'in-place';
  const hook = inPlace ? 'patient-view' : (given.hook ?? 'order-sign');
  const prefetch: Record<string, unknown> = {
    patient: { resourceType: 'Patient', id: 'p' },
    conditions: searchset(...(given.conditions ?? [])),
    procedures: searchset(...(inPlace ? replacedHips() : [])),
    measures: searchset(...(given.measures ?? [])),
    observations: searchset(),
    serviceRequests: searchset(),
    ...given.prefetch,
  };
  const sent = Object.fromEntries(Object.entries(prefetch).filter(([, value]) => value !== undefined));
  const context: JsonObject =
    hook === 'order-sign'
      ? { draftOrders: searchset(...(given.orders ?? [order()])) }
      : { appointments: searchset(...(given.appointments ?? [])) };
  return readRecord({
    hook,
    context,
    prefetch: sent,
    keys: KEYS,
    identity: {
      patientId: 'p',
      ...(given.fhirServer !== undefined && { fhirServer: given.fhirServer }),
    },
    now: NOW,
    knowledge: shipped.knowledge,
  });
}

export function hipOf(record: PatientRecord, hip: Hip = 'left'): HipRecord {
  const found = record.hips.find((candidate) => candidate.hip === hip);
  if (!found)
    throw new Error(`no ${hip} hip, only ${record.hips.map((each) => each.hip).join(', ') || 'none'}`);
  return found;
}

/** One fact of a hip, by reading a case. */
export function fact(id: string, given: Case, hip: Hip = 'left'): Fact {
  const found = hipOf(read(given), hip).facts.get(id);
  if (!found) throw new Error(`no fact ${id}`);
  return found;
}

/** The state in a word: `present`, `absent`, or the reason why it is unknown. */
export function stateOf(id: string, given: Case, hip: Hip = 'left'): string {
  const { state } = fact(id, given, hip);
  return state.status === 'unknown' ? state.reason : state.status;
}

/** The interval of a present quantity; undefined when it is none. */
export function intervalOf(found: Fact): readonly [number, number] | undefined {
  if (found.state.status !== 'present' || found.state.value.kind !== 'quantity') return undefined;
  return [found.state.value.interval.low, found.state.value.interval.high];
}

export function findings(given: Case, hip: Hip = 'left'): readonly DataFinding[] {
  return hipOf(read(given), hip).findings;
}

export function findingKinds(given: Case, hip: Hip = 'left'): readonly string[] {
  return findings(given, hip).map(({ kind }) => kind);
}
