import { asObject, asText, objectsIn } from './json.js';
import type { JsonObject } from './json.js';
import type { Located } from './references.js';

/** What came for one prefetch key. A set is `complete` only when it was really and wholly read. */
export type DataSet =
  | { readonly status: 'complete'; readonly resources: readonly Located[] }
  | { readonly status: 'incomplete'; readonly resources: readonly Located[]; readonly why: string }
  | { readonly status: 'absent' | 'failed'; readonly resources: readonly Located[]; readonly why: string };

/**
 * Reads the value of one prefetch key. Key absent: the client did not or could not look. `null` or an empty Bundle:
 * it looked and has none. A value of another type than `expected` answers another question. An OperationOutcome alone, or with severity error or fatal: the query failed.
 */
export function readDataSet(prefetch: JsonObject, key: string, expected: string): DataSet {
  if (!Object.hasOwn(prefetch, key)) return { status: 'absent', resources: [], why: 'not sent' };
  const value = prefetch[key];
  if (value === null) return { status: 'complete', resources: [] };
  const resource = asObject(value);
  const type = asText(resource?.['resourceType']);
  if (!resource || type === undefined) {
    return { status: 'absent', resources: [], why: 'not a FHIR resource' };
  }
  if (type === 'OperationOutcome') return { status: 'failed', resources: [], why: 'the query failed' };
  if (type === 'Bundle') return readSearchBundle(resource);
  if (type !== expected) return { status: 'absent', resources: [], why: 'another kind of resource' };
  return { status: 'complete', resources: [{ resource }] };
}

function readSearchBundle(bundle: JsonObject): DataSet {
  const page = readSearchPage(bundle);
  if (page.status === 'failed' || !hasNextPage(bundle)) return page;
  return { status: 'incomplete', resources: page.resources, why: MORE_PAGES };
}

export const MORE_PAGES = 'more pages were not sent';

/** More than any record of a hip holds in one set; reading without end would keep everybody else waiting. */
export const MOST_IN_SET = 5000;

/** Reads one page of a search for itself, whether or not another follows. */
export function readSearchPage(bundle: JsonObject): DataSet {
  if (entryCount(bundle['entry']) > MOST_IN_SET)
    return { status: 'failed', resources: [], why: `more than ${MOST_IN_SET} entries, none read` };
  const resources: Located[] = [];
  let outcomes = 0;
  let failures = 0;
  for (const located of bundleEntries(bundle)) {
    if (located.resource['resourceType'] !== 'OperationOutcome') {
      resources.push(located);
      continue;
    }
    outcomes += 1;
    if (isFailure(located.resource)) failures += 1;
  }
  // Warnings beside matches leave them usable; an outcome that stands alone means that nothing was answered.
  if (failures > 0 || (outcomes > 0 && resources.length === 0))
    return { status: 'failed', resources, why: 'the query failed' };
  const unreadable = entryCount(bundle['entry']) - resources.length - outcomes;
  if (unreadable > 0)
    return { status: 'incomplete', resources, why: `${unreadable} entries without a resource` };
  return { status: 'complete', resources };
}

export function hasNextPage(bundle: JsonObject): boolean {
  return objectsIn(bundle['link']).some((link) => link['relation'] === 'next');
}

/** The address of the next page; undefined when there is none or the link does not say. */
export function nextPageUrl(bundle: JsonObject): string | undefined {
  return asText(objectsIn(bundle['link']).find((link) => link['relation'] === 'next')?.['url']);
}

/** A list has its length; anything else in its place is one entry nobody can read. */
function entryCount(entry: unknown): number {
  if (entry === undefined) return 0;
  return Array.isArray(entry) ? entry.length : 1;
}

function isFailure(outcome: JsonObject): boolean {
  const severities = objectsIn(outcome['issue']).map((entry) => entry['severity']);
  return (
    severities.length === 0 || severities.some((severity) => severity === 'error' || severity === 'fatal')
  );
}

/** The resources of a Bundle's entries with their full URLs; entries without a resource are passed over. */
export function bundleEntries(bundle: JsonObject): readonly Located[] {
  const located: Located[] = [];
  for (const entry of objectsIn(bundle['entry'])) {
    const resource = asObject(entry['resource']);
    if (!resource || asText(resource['resourceType']) === undefined) continue;
    const fullUrl = asText(entry['fullUrl']);
    located.push(fullUrl === undefined ? { resource } : { resource, fullUrl });
  }
  return located;
}
