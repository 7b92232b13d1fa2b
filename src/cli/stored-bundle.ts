import { bundleEntries } from '../fhir/bundle.js';
import { asText } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';

/**
 * A Bundle as a server would hold it once it was sent there: what refers to its patient by the name the entry has in the
 * Bundle alone (`urn:uuid:`) refers to it by its id. Anything else would look like somebody else's.
 */
export function asStored(bundle: JsonObject): JsonObject {
  const patient = bundleEntries(bundle).find(({ resource }) => resource['resourceType'] === 'Patient');
  const id = asText(patient?.resource['id']);
  const fullUrl = patient?.fullUrl;
  if (id === undefined || fullUrl?.startsWith('urn:') !== true) return bundle;
  const [from, to] = [fullUrl, `Patient/${id}`].map((name) => `"reference":${JSON.stringify(name)}`);
  return JSON.parse(JSON.stringify(bundle).replaceAll(from ?? '', to ?? '')) as JsonObject;
}
