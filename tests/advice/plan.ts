import type { JsonObject } from '../../src/fhir/json.js';

const SYSTEM = 'https://kotyle.example/fhir/CodeSystem';
const SNOMED = 'http://snomed.info/sct';
const SITES = { left: '287679003', right: '287579007' } as const;

export type PlanSide = keyof typeof SITES;

/** One planned measure of one hip, tied to the order of `planBundle`. */
export function measureObservation(
  code: string,
  value: number,
  unit: string,
  side: PlanSide = 'left',
): JsonObject {
  return {
    resourceType: 'Observation',
    id: `planned-${code}`,
    status: 'preliminary',
    basedOn: [{ reference: 'ServiceRequest/order-1' }],
    category: [
      { coding: [{ system: `${SYSTEM}/measure-stage`, code: 'planned' }] },
      { coding: [{ system: `${SYSTEM}/measure-group`, code: 'hip-stability' }] },
    ],
    code: { coding: [{ system: `${SYSTEM}/hip-measure`, code }] },
    subject: { reference: 'Patient/patient-1' },
    effectiveDateTime: '2026-11-02',
    valueQuantity: { value, unit, system: 'http://unitsofmeasure.org', code: unit },
    bodySite: { coding: [{ system: SNOMED, code: SITES[side] }] },
  };
}

/** A patient with one draft order for a hip and whatever else is given. */
export function planBundle(resources: readonly JsonObject[], side: PlanSide = 'left'): JsonObject {
  const patient = { resourceType: 'Patient', id: 'patient-1', gender: 'female', birthDate: '1956-01-01' };
  const order = {
    resourceType: 'ServiceRequest',
    id: 'order-1',
    status: 'draft',
    intent: 'order',
    code: { coding: [{ system: SNOMED, code: '52734007' }] },
    bodySite: [{ coding: [{ system: SNOMED, code: SITES[side] }] }],
    subject: { reference: 'Patient/patient-1' },
  };
  return {
    resourceType: 'Bundle',
    type: 'collection',
    entry: [patient, order, ...resources].map((resource) => ({ resource })),
  };
}
