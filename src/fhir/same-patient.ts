import { normaliseReference, referenceOf } from './references.js';
import type { JsonObject } from './json.js';

/** Whom the call is about, in every form in which a resource may name the patient. */
export interface PatientIdentity {
  readonly patientId: string;
  readonly fhirServer?: string;
  /** The full URL of the Patient in its Bundle, when there was one. */
  readonly fullUrl?: string;
}

export type Ownership = 'same' | 'other' | 'unstated';

/** Whether a resource is about the patient of the call: by `subject`, `patient` or, for appointments, a participant. */
export function ownershipOf(resource: JsonObject, identity: PatientIdentity): Ownership {
  const stated = referenceOf(resource['subject']) ?? referenceOf(resource['patient']);
  if (stated === undefined) return 'unstated';
  return namesPatient(stated, identity) ? 'same' : 'other';
}

/** Whether one reference names the patient of the call. */
export function namesPatient(reference: string, identity: PatientIdentity): boolean {
  if (identity.fullUrl !== undefined && reference === identity.fullUrl) return true;
  return normaliseReference(reference, identity.fhirServer) === `Patient/${identity.patientId}`;
}
