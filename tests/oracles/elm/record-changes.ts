import type { JsonObject } from '../../../src/fhir/json.js';
import type { SyntheticPatient } from '../../../src/workbench/synthesize/synthesize-hips.js';
import { sideStatedBy } from './terminology.js';
import type { Code } from './terminology.js';

/** Changes of a synthetic record, resource by resource: each gives a new record and leaves the old one alone. */

export type Side = 'left' | 'right';

export interface ChangedRecord {
  readonly patientId: string;
  /** The hip the synthetic operation is of. */
  readonly side: Side;
  readonly resources: readonly JsonObject[];
  /** The sets the call does not send. */
  readonly unsent: readonly ('conditions' | 'procedures')[];
}

const OWN = 'https://kotyle.example/fhir/CodeSystem';
const SNOMED = 'http://snomed.info/sct';
const UCUM = 'http://unitsofmeasure.org';
const TERMINOLOGY = 'http://terminology.hl7.org/CodeSystem';
const HIPS: Readonly<Record<Side, string>> = { left: '287679003', right: '287579007' };
const ON = '2026-10-12';
export const LATER = '2027-03-01';

export function recordOf({ id, bundle, truth }: SyntheticPatient): ChangedRecord {
  const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
  return {
    patientId: id,
    side: truth.operation.side,
    resources: entries.map(({ resource }) => resource),
    unsent: [],
  };
}

export function bundleOf({ resources }: ChangedRecord): JsonObject {
  return {
    resourceType: 'Bundle',
    type: 'collection',
    entry: resources.map((resource) => ({
      fullUrl: `https://record.example/fhir/${String(resource['resourceType'])}/${String(resource['id'])}`,
      resource,
    })),
  };
}

export const otherSide = (side: Side): Side => (side === 'left' ? 'right' : 'left');

const concept = ({ system, code }: Code): JsonObject => ({ coding: [{ system, code }] });
const own = (name: string, code: string): JsonObject => concept({ system: `${OWN}/${name}`, code });
const hip = (side: Side): JsonObject => concept({ system: SNOMED, code: HIPS[side] });

export type Value =
  | number
  | { readonly low: number; readonly high: number }
  | { readonly code: string }
  | { readonly grade: number };

export interface Measure {
  readonly value: Value;
  readonly unit?: string;
  readonly stage?: 'native' | 'planned' | 'postoperative';
  readonly side?: Side;
  /** Coded answers, or a flag, that say how the value is to be read. */
  readonly components?: Readonly<Record<string, string | boolean>>;
  readonly status?: string;
  readonly on?: string;
}

/** The record with this measure in place of any other of the same code, stage and side. */
export function withMeasure(record: ChangedRecord, code: string, measure: Measure): ChangedRecord {
  const { stage = 'planned', side = record.side, status = 'final', on = ON, components = {} } = measure;
  const cleared = withoutMeasure(record, code, stage, side);
  const added = {
    resourceType: 'Observation',
    id: `${record.patientId}-changed-${code}-${stage}-${side}`,
    ...(stage === 'planned' && { basedOn: [{ reference: `ServiceRequest/${record.patientId}-order` }] }),
    status,
    category: [own('measure-stage', stage), own('measure-group', 'hip-stability')],
    code: own('hip-measure', code),
    subject: { reference: `Patient/${record.patientId}` },
    effectiveDateTime: on,
    bodySite: hip(side),
    ...valueOf(measure),
    component: Object.entries(components).map(([name, answer]) => ({
      code: own('hip-measure', name),
      ...(typeof answer === 'boolean'
        ? { valueBoolean: answer }
        : { valueCodeableConcept: own('hip-measure-value', answer) }),
    })),
  };
  return { ...cleared, resources: [...cleared.resources, added] };
}

function valueOf({ value, unit = 'deg' }: Measure): JsonObject {
  const quantity = (number: number): JsonObject => ({ value: number, unit, system: UCUM, code: unit });
  if (typeof value === 'number') return { valueQuantity: quantity(value) };
  if ('low' in value) return { valueRange: { low: quantity(value.low), high: quantity(value.high) } };
  if ('grade' in value) return { valueInteger: value.grade };
  return { valueCodeableConcept: own('hip-measure-value', value.code) };
}

export function withoutMeasure(
  record: ChangedRecord,
  code: string,
  stage: string,
  side: Side = record.side,
): ChangedRecord {
  const has = (value: unknown, wanted: string): boolean =>
    JSON.stringify(value ?? '').includes(`"${wanted}"`);
  return {
    ...record,
    resources: record.resources.filter(
      (resource) =>
        resource['resourceType'] !== 'Observation' ||
        !has(resource['code'], code) ||
        !has(resource['category'], stage) ||
        !has(resource['bodySite'], HIPS[side]),
    ),
  };
}

export const STATES = [
  'active',
  'resolved',
  'provisional',
  'refuted',
  'remission',
  'future',
  'entered-in-error',
  'unstated',
] as const;

export type State = (typeof STATES)[number];

export interface History {
  readonly code: Code;
  readonly state: State;
  /** A body site beside a code that states no side itself. */
  readonly site: Side | 'none';
}

export function withProblem(record: ChangedRecord, { code, state, site }: History): ChangedRecord {
  const isOver = state === 'resolved' || state === 'remission';
  const isJudged = state === 'provisional' || state === 'refuted' || state === 'entered-in-error';
  return withResource(record, {
    resourceType: 'Condition',
    ...(state !== 'unstated' &&
      state !== 'entered-in-error' && {
        clinicalStatus: concept({
          system: `${TERMINOLOGY}/condition-clinical`,
          code: isOver ? state : 'active',
        }),
      }),
    ...(state !== 'unstated' && {
      verificationStatus: concept({
        system: `${TERMINOLOGY}/condition-ver-status`,
        code: isJudged ? state : 'confirmed',
      }),
    }),
    code: concept(code),
    ...siteOf(code, site),
    onsetDateTime: state === 'future' ? LATER : ON,
  });
}

export function withProcedure(record: ChangedRecord, { code, state, site }: History): ChangedRecord {
  const isUndone = state === 'refuted' || state === 'provisional';
  return withResource(record, {
    resourceType: 'Procedure',
    status: state === 'entered-in-error' ? state : isUndone ? 'not-done' : 'completed',
    code: concept(code),
    ...siteOf(code, site),
    performedDateTime: state === 'future' ? LATER : ON,
  });
}

function siteOf(code: Code, site: Side | 'none'): JsonObject {
  return site === 'none' || sideStatedBy(code) !== undefined ? {} : { bodySite: [hip(site)] };
}

/** The record with one more resource of this patient. */
export function withResource(record: ChangedRecord, resource: JsonObject): ChangedRecord {
  const id = `${record.patientId}-added-${record.resources.length}`;
  const subject = { reference: `Patient/${record.patientId}` };
  return { ...record, resources: [...record.resources, { id, subject, ...resource }] };
}

/** The order with another code, or without a side. */
export function withOrder(record: ChangedRecord, code: Code | undefined): ChangedRecord {
  return {
    ...record,
    resources: record.resources.map((resource) => {
      if (resource['resourceType'] !== 'ServiceRequest') return resource;
      if (code) return { ...resource, code: concept(code) };
      const { bodySite, ...unsided } = resource;
      return bodySite === undefined ? resource : unsided;
    }),
  };
}

export function withSecondOrder(record: ChangedRecord, code: Code, side: Side): ChangedRecord {
  return withResource(record, {
    resourceType: 'ServiceRequest',
    status: 'draft',
    intent: 'order',
    code: concept(code),
    bodySite: [hip(side)],
  });
}

/** The record without one of its sets, which the call does not send. */
export function withoutSet(record: ChangedRecord, set: 'conditions' | 'procedures'): ChangedRecord {
  const type = set === 'conditions' ? 'Condition' : 'Procedure';
  return {
    ...record,
    resources: record.resources.filter((resource) => resource['resourceType'] !== type),
    unsent: [...record.unsent, set],
  };
}
