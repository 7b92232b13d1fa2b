import { SNOMED_CT, UCUM } from '../../fhir/codings.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Rulebook } from '../../rulebook/types.js';
import { HIP_SITES, ORDERS } from '../synthesize/codes.js';
import type { CodedAs } from './coded-cases.js';

const PATIENT = { reference: 'Patient/coded' };
const DAY_OF_OPERATION = '2019-03-04';

/** A patient with an order for both hips, so that a code of either side is heard, and one code on record. */
export function codedBundle(given: CodedAs, now: string, rulebook: Rulebook): JsonObject {
  const resources = [
    { resourceType: 'Patient', id: 'coded' },
    ...(given.as === 'order' || given.as === 'appointment' ? [] : [order(SNOMED_CT, ORDERS.primary, true)]),
    ...recorded(given, now, rulebook),
  ];
  return { resourceType: 'Bundle', type: 'collection', entry: resources.map((resource) => ({ resource })) };
}

function recorded(given: CodedAs, now: string, rulebook: Rulebook): readonly JsonObject[] {
  const { system, code } = given;
  switch (given.as) {
    case 'condition':
      return [condition(system, code)];
    case 'procedure':
      return [procedure(system, code, given.underWay), ...besideIt(given.with)];
    case 'order':
      return [order(system, code, false)];
    case 'appointment':
      return [appointment(system, code)];
    case 'observation':
      return [observation(given, now, rulebook)];
  }
}

function besideIt(token: string | undefined): readonly JsonObject[] {
  if (token === undefined) return [];
  const bar = token.lastIndexOf('|');
  return [{ ...procedure(token.slice(0, bar), token.slice(bar + 1), undefined), id: 'beside' }];
}

function condition(system: string, code: string): JsonObject {
  return {
    resourceType: 'Condition',
    id: 'recorded',
    clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', 'active'),
    verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'confirmed'),
    code: concept(system, code),
    subject: PATIENT,
    onsetDateTime: '2020-05-01',
  };
}

function procedure(system: string, code: string, underWay: true | undefined): JsonObject {
  return {
    resourceType: 'Procedure',
    id: 'recorded',
    status: underWay ? 'in-progress' : 'completed',
    code: concept(system, code),
    subject: PATIENT,
    ...(!underWay && { performedDateTime: DAY_OF_OPERATION }),
  };
}

function order(system: string, code: string, sided: boolean): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id: 'order',
    status: 'draft',
    intent: 'order',
    code: concept(system, code),
    // A code may name its side itself: an order that is looked at for its code states no other.
    ...(sided && { bodySite: Object.values(HIP_SITES).map((site) => concept(SNOMED_CT, site)) }),
    subject: PATIENT,
  };
}

function appointment(system: string, code: string): JsonObject {
  return {
    resourceType: 'Appointment',
    id: 'visit',
    status: 'proposed',
    serviceType: [concept(system, code)],
    participant: [{ actor: PATIENT, status: 'accepted' }],
  };
}

/** An ordinary value in the unit of the fact it is of; the number itself does not matter. */
function observation(
  { system, code, valueOf = '' }: CodedAs,
  now: string,
  { factById }: Rulebook,
): JsonObject {
  const value = 30;
  const fact = factById.get(valueOf);
  const unit = fact?.kind === 'observation' ? fact.unit : '1';
  return {
    resourceType: 'Observation',
    id: 'recorded',
    status: 'final',
    code: concept(system, code),
    subject: PATIENT,
    effectiveDateTime: now.slice(0, 10),
    valueQuantity: { value, unit, system: UCUM, code: unit },
  };
}

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}
