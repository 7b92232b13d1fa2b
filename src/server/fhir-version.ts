import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';

/** Requests and visits that FHIR has had under names R4 does not know: of DSTU2 and STU3, and of R5. */
export const FOREIGN_TYPES: ReadonlySet<string> = new Set([
  'DeviceUseRequest',
  'DiagnosticOrder',
  'MedicationOrder',
  'Order',
  'ProcedureRequest',
  'ReferralRequest',
  'DeviceUsage',
  'RequestOrchestration',
]);

/** Elements by which a resource that R4 does know shows that it is of STU3 or R5. */
export const FOREIGN_ELEMENTS: Readonly<Record<string, readonly string[]>> = {
  Appointment: ['indication', 'incomingReferral', 'reason', 'subject', 'replaces'],
  DeviceRequest: ['definition', 'context', 'product', 'reason'],
  ServiceRequest: ['bodyStructure', 'focus', 'reason'],
};

/** What in the resources of a context is not R4. All of one context is of one version, and only R4 is read here. */
export interface ForeignParts {
  /** The path of the first resource whose type R4 does not know. */
  readonly type?: string;
  /** The path of the first element that R4 does not know; the rest of its resource can be read all the same. */
  readonly element?: string;
}

export function foreignParts(context: JsonObject): ForeignParts {
  let type: string | undefined;
  let element: string | undefined;
  for (const field of ['draftOrders', 'appointments'])
    for (const [index, entry] of objectsIn(asObject(context[field])?.['entry']).entries()) {
      const resource = asObject(entry['resource']) ?? {};
      const name = asText(resource['resourceType']) ?? '';
      const path = `context.${field}.entry.${index}.resource`;
      if (FOREIGN_TYPES.has(name)) type ??= `${path}.resourceType`;
      const foreign = Object.hasOwn(FOREIGN_ELEMENTS, name) ? FOREIGN_ELEMENTS[name] : undefined;
      const found = foreign?.find((one) => Object.hasOwn(resource, one));
      if (found !== undefined) element ??= `${path}.${found}`;
    }
  return { ...(type !== undefined && { type }), ...(element !== undefined && { element }) };
}
