import { SERVICES } from '../../advice/index.js';
import type { AdviceInput, Service } from '../../advice/index.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';

/** The rule that must fire for the built-in patient: a cup planned far steeper than any published range. */
export const BUILT_IN_RULE = 'cup-inclination-outside-published';

const SNOMED = 'http://snomed.info/sct';
const RIGHT_HIP = { coding: [{ system: SNOMED, code: '287579007' }] };
const PATIENT_ID = 'built-in';
const USER_ID = 'Practitioner/built-in';
const SUBJECT = { reference: `Patient/${PATIENT_ID}` };

const ORDER: JsonObject = {
  resourceType: 'ServiceRequest',
  id: 'order',
  status: 'draft',
  intent: 'order',
  code: { coding: [{ system: SNOMED, code: '52734007' }] },
  bodySite: [RIGHT_HIP],
  subject: SUBJECT,
};

/** Measures of a plan that no surgeon would sign. */
const PLAN = [
  { code: 'cup-inclination', value: 70, unit: 'deg' },
  { code: 'cup-anteversion', value: 15, unit: 'deg' },
  { code: 'head-diameter', value: 36, unit: 'mm' },
  { code: 'neck-diameter', value: 12, unit: 'mm' },
] as const;

/**
 * The order of an invented patient's right hip, by which the service finds out whether it can answer at all. Its time is
 * fixed, so that the same knowledge always says the same of it.
 */
export function builtInCall(rulebook: Rulebook, site: Site | undefined, engine: string): AdviceInput {
  return {
    service: orderSign(),
    hookInstance: '7c1f0a52-6c0e-4f3b-9a11-2d5b8e4f7a90',
    patientId: PATIENT_ID,
    userId: USER_ID,
    context: { userId: USER_ID, patientId: PATIENT_ID, draftOrders: bundle('collection', [ORDER]) },
    prefetch: {
      patient: { resourceType: 'Patient', id: PATIENT_ID, gender: 'female' },
      conditions: bundle('searchset', []),
      procedures: bundle('searchset', []),
      measures: bundle('searchset', plan(rulebook)),
    },
    iss: '-',
    now: '2026-01-15T10:00:00.000Z',
    engine,
    ...(site && { site: speakingToAnybody(site) }),
  };
}

function orderSign(): Service {
  const found = SERVICES.find(({ hook }) => hook === 'order-sign');
  if (!found) throw new Error('expected a service for order-sign, found none');
  return found;
}

/** To whom an installation speaks, and whether it does, is no question of whether it works. */
function speakingToAnybody(site: Site): Site {
  return { ...site, audience: new Map(), services: new Map(), rules: new Map() };
}

/** The plan as a record system sends it, in the code systems of the rulebook in force. */
function plan({ about: { systems } }: Rulebook): readonly JsonObject[] {
  const [groupSystem = '', group = ''] = systems.group.split('|');
  return PLAN.map(({ code, value, unit }) => ({
    resourceType: 'Observation',
    id: code,
    status: 'preliminary',
    category: [
      { coding: [{ system: systems.stage, code: 'planned' }] },
      { coding: [{ system: groupSystem, code: group }] },
    ],
    code: { coding: [{ system: systems.measure, code }] },
    subject: SUBJECT,
    effectiveDateTime: '2026-01-10',
    valueQuantity: { value, unit, system: 'http://unitsofmeasure.org', code: unit },
    bodySite: RIGHT_HIP,
  }));
}

function bundle(type: 'collection' | 'searchset', resources: readonly JsonObject[]): JsonObject {
  return { resourceType: 'Bundle', type, entry: resources.map((resource) => ({ resource })) };
}
