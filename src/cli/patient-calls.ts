import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { bundleEntries } from '../fhir/bundle.js';
import type { Located } from '../fhir/references.js';
import { codesIn, codingsOf } from '../fhir/codings.js';
import type { Service } from '../advice/index.js';
import type { Rulebook } from '../rulebook/types.js';

/** A CDS Hooks request body, as a record system would send it. */
export interface PatientCall {
  readonly hook: string;
  readonly hookInstance: string;
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
}

/**
 * The call a record system would make for a test patient kept as one Bundle: draft orders and proposed appointments
 * become the context, everything else answers the prefetch templates of the service. Undefined when the patient has
 * nothing to book or to sign.
 */
export function patientCall(
  bundle: JsonObject,
  service: Service,
  rulebook: Rulebook,
  hookInstance: string,
): PatientCall | undefined {
  const entries = bundleEntries(bundle);
  const patientId = asText(
    entries.find(({ resource }) => resource['resourceType'] === 'Patient')?.resource['id'],
  );
  if (patientId === undefined) return undefined;
  const acted = entries.filter(({ resource }) => isActedOn(resource, service));
  if (acted.length === 0) return undefined;
  const member = service.hook === 'order-sign' ? 'draftOrders' : 'appointments';
  return {
    hook: service.hook,
    hookInstance,
    context: { userId: 'Practitioner/demo', patientId, [member]: toBundle('collection', acted) },
    prefetch: Object.fromEntries(
      service.keys.map((key) => [key, prefetchValue(key, entries, acted, rulebook)]),
    ),
  };
}

function isActedOn(resource: JsonObject, service: Service): boolean {
  if (service.hook === 'appointment-book') return resource['resourceType'] === 'Appointment';
  return resource['resourceType'] === 'ServiceRequest' && resource['status'] === 'draft';
}

function prefetchValue(
  key: Service['keys'][number],
  entries: readonly Located[],
  acted: readonly Located[],
  rulebook: Rulebook,
): unknown {
  const of = (type: string): readonly Located[] =>
    entries.filter((entry) => entry.resource['resourceType'] === type && !acted.includes(entry));
  switch (key) {
    case 'patient':
      return of('Patient')[0]?.resource;
    case 'conditions':
      return toBundle('searchset', of('Condition'));
    case 'procedures':
      return toBundle('searchset', of('Procedure'));
    case 'serviceRequests':
      return toBundle('searchset', of('ServiceRequest'));
    case 'measures':
      return toBundle(
        'searchset',
        of('Observation').filter(({ resource }) => isHipMeasure(resource, rulebook)),
      );
    case 'observations':
      return toBundle(
        'searchset',
        of('Observation').filter(({ resource }) => isLaboratory(resource, rulebook)),
      );
  }
}

function isHipMeasure(resource: JsonObject, rulebook: Rulebook): boolean {
  const [system = '', code = ''] = rulebook.about.systems.group.split('|');
  return objectsIn(resource['category']).some((category) =>
    codesIn(category, system, rulebook.knowledge.aliases).includes(code),
  );
}

function isLaboratory(resource: JsonObject, rulebook: Rulebook): boolean {
  const codings = codingsOf(asObject(resource['code']), rulebook.knowledge.aliases);
  return codings.some(({ code }) => code !== undefined && rulebook.laboratoryCodes.includes(code));
}

function toBundle(type: 'collection' | 'searchset', entries: readonly Located[]): JsonObject {
  const bare = entries.map(({ resource, fullUrl }) => ({
    ...(fullUrl !== undefined && { fullUrl }),
    resource,
  }));
  return { resourceType: 'Bundle', type, ...(bare.length > 0 && { entry: bare }) };
}
