import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import type { AdviceInput } from './advise.js';
import { missingSets } from './missing-sets.js';
import type { MissingSet } from './missing-sets.js';
import { SERVICES, allKeys } from './services.js';

/** Every set that any service reads of one patient, with how to ask a record system for it. */
export function setsOf(patientId: string, rulebook: Rulebook, site: Site | undefined): readonly MissingSet[] {
  const keys = SERVICES.flatMap((service) => allKeys(service, site?.measureCodes ?? []));
  return missingSets(nothingSent(patientId, site), rulebook, [...new Set(keys)]);
}

/** A call that brings nothing but the patient's id. */
function nothingSent(patientId: string, site: Site | undefined): AdviceInput {
  const service = SERVICES.find(({ hook }) => hook === 'patient-view');
  if (!service) throw new Error('there is no chart service');
  return {
    service,
    hookInstance: '',
    patientId,
    userId: '',
    context: {},
    prefetch: {},
    iss: '-',
    now: '',
    engine: '',
    ...(site && { site }),
  };
}
