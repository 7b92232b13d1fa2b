import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { bundleEntries, readDataSet } from '../fhir/bundle.js';
import type { DataSet } from '../fhir/bundle.js';
import { nameOf } from '../fhir/references.js';
import type { Located } from '../fhir/references.js';
import { codesIn, codingsOf } from '../fhir/codings.js';
import type { Service } from './index.js';
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
  if (acted.length === 0 && service.hook !== 'patient-view') return undefined;
  return {
    hook: service.hook,
    hookInstance,
    context: { userId: 'Practitioner/demo', patientId, ...actedOn(service, acted) },
    prefetch: Object.fromEntries(
      service.keys.flatMap((key) => {
        const value = prefetchValue(key, entries, acted, rulebook);
        return value === undefined ? [] : [[key, value]];
      }),
    ),
  };
}

/**
 * The sets a service reads itself from the record system once it knows that the call is about a hip: for a test
 * patient, what its Bundle holds of them.
 */
export function fetchedFor(
  bundle: JsonObject,
  service: Service,
  rulebook: Rulebook,
): ReadonlyMap<string, DataSet> {
  const entries = bundleEntries(bundle);
  const acted = entries.filter(({ resource }) => isActedOn(resource, service));
  return new Map(
    service.laterKeys.map((key) => {
      const value = prefetchValue(key, entries, acted, rulebook);
      return [key, readDataSet({ [key]: value }, key, 'Bundle')] as const;
    }),
  );
}

function isActedOn(resource: JsonObject, service: Service): boolean {
  switch (service.hook) {
    case 'appointment-book':
      return resource['resourceType'] === 'Appointment';
    case 'patient-view':
      return false;
    default:
      return (
        (resource['resourceType'] === 'ServiceRequest' || resource['resourceType'] === 'DeviceRequest') &&
        resource['status'] === 'draft'
      );
  }
}

/** The members of the context that carry what is being booked, chosen or signed. */
function actedOn(service: Service, acted: readonly Located[]): JsonObject {
  const bundle = toBundle('collection', acted);
  switch (service.hook) {
    case 'appointment-book':
      return { appointments: bundle };
    case 'order-select':
      return { selections: acted.map(nameOf), draftOrders: bundle };
    case 'order-sign':
      return { draftOrders: bundle };
    case 'patient-view':
      return {};
  }
}

const TYPE_OF = {
  conditions: 'Condition',
  procedures: 'Procedure',
  devices: 'Device',
  deviceUses: 'DeviceUseStatement',
  serviceRequests: 'ServiceRequest',
  deviceRequests: 'DeviceRequest',
  questionnaireResponses: 'QuestionnaireResponse',
  appointments: 'Appointment',
} as const;

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
    case 'user':
      // The demo user has no role: the token can't be resolved, so the key is left out.
      return undefined;
    case 'encounter':
      return of('Encounter')[0]?.resource;
    case 'conditions':
    case 'procedures':
    case 'devices':
    case 'deviceUses':
    case 'serviceRequests':
    case 'deviceRequests':
    case 'questionnaireResponses':
    case 'appointments':
      return toBundle('searchset', of(TYPE_OF[key]));
    case 'localMeasures':
      return toBundle('searchset', []);
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
