import type { Bundle, Resource } from '@medplum/fhirtypes';
import { FhirRouter, MemoryRepository } from '@medplum/fhir-router';
import type { JsonObject } from '../../src/fhir/json.js';
import './search-parameters.js';

/** A record behind a general FHIR router: reads and searches as FHIR R4 defines them. */
export interface RecordStore {
  readonly read: (type: string, id: string) => JsonObject | undefined;
  readonly search: (type: string, terms: URLSearchParams) => Promise<readonly JsonObject[]>;
}

/** Answers with the resources as they were given, not with the copies the repository stamps with its own clock. */
export async function newRecordStore(resources: readonly JsonObject[]): Promise<RecordStore> {
  const repository = new MemoryRepository();
  const router = new FhirRouter();
  const given = new Map<string, JsonObject>();
  for (const resource of resources) {
    if (typeof resource['id'] !== 'string') throw new TypeError('expected every resource to have an id');
    given.set(nameOf(resource), resource);
    await repository.createResource(resource as unknown as Resource);
  }
  return {
    read: (type, id) => given.get(`${type}/${id}`),
    search: async (type, terms) => {
      const query = queryFor(terms);
      const request = { method: 'GET', url: `/${type}`, pathname: '', body: undefined, params: {}, query };
      const [answer, bundle] = await router.handleRequest(
        request as Parameters<FhirRouter['handleRequest']>[0],
        repository,
      );
      if (bundle?.resourceType !== 'Bundle') throw new Error(`the router answered ${JSON.stringify(answer)}`);
      const found = entries(bundle).map((resource) => given.get(nameOf(resource)) ?? resource);
      return found.filter((resource) => answersQuestionnaire(resource, terms.get('questionnaire')));
    },
  };
}

function nameOf(resource: JsonObject): string {
  return `${String(resource['resourceType'])}/${String(resource['id'])}`;
}

function entries(bundle: Bundle): readonly JsonObject[] {
  return (bundle.entry ?? []).map(({ resource }) => resource as unknown as JsonObject);
}

/** The router finds no patient by the bare id that FHIR allows, and no questionnaire of a stated version by its URL alone. */
function queryFor(terms: URLSearchParams): Record<string, string | string[]> {
  const query: Record<string, string | string[]> = { _count: '10000' };
  for (const name of new Set(terms.keys())) {
    if (name === 'questionnaire') continue;
    const values = terms.getAll(name).map((value) => (name === 'patient' ? patientReference(value) : value));
    query[name] = values.length === 1 ? (values[0] ?? '') : values;
  }
  return query;
}

function patientReference(value: string): string {
  return value
    .split(',')
    .map((one) => (one.includes('/') ? one : `Patient/${one}`))
    .join(',');
}

/** FHIR R4 search, "reference": a canonical URL without a version finds every version. */
function answersQuestionnaire(resource: JsonObject, wanted: string | null): boolean {
  if (wanted === null) return true;
  const stated = String(resource['questionnaire']);
  return wanted
    .split(',')
    .some((one) => stated === one || (!one.includes('|') && stated.split('|')[0] === one));
}
