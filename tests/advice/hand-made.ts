import type { Advisory } from '../../src/engine/evaluate.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { measure, order, quantity, searchset } from '../facts/records.js';
import { NOW, answerTo, service } from './patients.js';
import type { Answer } from './patients.js';

/** Calls made by hand where a test patient for every edge would be too much: signing an order, opening a chart. */

const HOOK_INSTANCE = 'd1577c69-dfbe-44ad-ba6d-3e05e953b2ea';

export interface HandMade {
  readonly orders?: readonly JsonObject[];
  readonly measures?: readonly JsonObject[];
  readonly conditions?: readonly JsonObject[];
  readonly procedures?: readonly JsonObject[];
  readonly observations?: readonly JsonObject[];
}

export async function answerToHandMade(
  hook: 'order-sign' | 'patient-view',
  given: HandMade,
): Promise<Answer> {
  const draftOrders = searchset(...(given.orders ?? [order()]));
  return answerTo({
    service: service(hook),
    hookInstance: HOOK_INSTANCE,
    patientId: 'p',
    userId: 'Practitioner/x',
    context: { patientId: 'p', userId: 'Practitioner/x', ...(hook === 'order-sign' && { draftOrders }) },
    prefetch: {
      patient: { resourceType: 'Patient', id: 'p' },
      conditions: searchset(...(given.conditions ?? [])),
      procedures: searchset(...(given.procedures ?? [])),
      measures: searchset(...(given.measures ?? [])),
      observations: searchset(...(given.observations ?? [])),
      serviceRequests: searchset(...(hook === 'patient-view' ? (given.orders ?? []) : [])),
      devices: searchset(),
      deviceUses: searchset(),
      deviceRequests: searchset(),
      questionnaireResponses: searchset(),
      appointments: searchset(),
    },
    iss: '-',
    now: NOW,
    engine: '0.1.0',
  });
}

/** What one rule said about the first hip and construct it speaks of. */
export function advisoryOf(answer: Answer, rule: string, construct: 'planned' | 'in-place'): Advisory {
  const found = answer.hips
    .flatMap(({ advisories }) => advisories)
    .find((advisory) => advisory.rule === rule && advisory.construct === construct);
  if (!found) throw new Error(`no ${construct} advisory of ${rule}`);
  return found;
}

/** An angle of spine or pelvis, as a film before surgery gives it. */
export function spineAngle(code: string, value: number): JsonObject {
  return measure(code, quantity(value, 'deg'), { stages: ['native'] });
}

/** A Procedure that is done; `code` is a CodeableConcept. */
export function done(id: string, code: JsonObject, date: string | undefined, site?: JsonObject): JsonObject {
  return {
    resourceType: 'Procedure',
    id,
    status: 'completed',
    subject: { reference: 'Patient/p' },
    code,
    ...(site && { bodySite: [site] }),
    ...(date !== undefined && { performedDateTime: date }),
  };
}
