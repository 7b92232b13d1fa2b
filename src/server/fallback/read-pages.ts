import { hasNextPage, MORE_PAGES, nextPageUrl, readDataSet, readSearchPage } from '../../fhir/bundle.js';
import type { DataSet } from '../../fhir/bundle.js';
import type { JsonObject } from '../../fhir/json.js';
import type { Located } from '../../fhir/references.js';
import { addressBelow } from './base-url.js';
import { describeFault } from './fault.js';
import type { Purpose, RecordClient } from './record-client.js';

const MOST_PAGES = 50;
const MOST_RESOURCES = 10_000;

/** Where the reading of a search stands: the pages before, and what comes next. */
export interface Paging {
  readonly client: RecordClient;
  readonly base: string;
  readonly purpose: Purpose;
}

/** Reads a search from its first page to its last. */
export async function readFromPage(first: JsonObject, paging: Paging): Promise<DataSet> {
  if (first['resourceType'] !== 'Bundle') return notASearch(first);
  const page = readSearchPage(first);
  if (page.status === 'failed' || !hasNextPage(first)) return page;
  const rest = await followPages(nextPageUrl(first), page.resources, paging);
  return page.status === 'incomplete' && rest.status === 'complete'
    ? { ...page, resources: rest.resources }
    : rest;
}

/** Follows `next` links from one on; what was read before the first that can't be followed is kept. */
export async function followPages(
  start: string | undefined,
  before: readonly Located[],
  { client, base, purpose }: Paging,
): Promise<DataSet> {
  const resources = [...before];
  const seen = new Set<string>();
  const stopped = (why: string): DataSet => ({ status: 'incomplete', resources, why });
  let unreadable: string | undefined;
  for (let link = start; ;) {
    if (link === undefined || link === '') return stopped(MORE_PAGES);
    const address = addressBelow(base, link);
    if (address === undefined) return stopped('next page on another server, not followed');
    if (seen.has(address)) return stopped('pages lead in a circle');
    seen.add(address);
    if (seen.size >= MOST_PAGES) return stopped(`more than ${MOST_PAGES} pages`);
    const answer = await client.page(purpose, address);
    if (!answer.ok) return stopped(`a further page ${describeFault(answer.fault)}`);
    const page =
      answer.resource['resourceType'] === 'Bundle'
        ? readSearchPage(answer.resource)
        : notASearch(answer.resource);
    for (const located of page.resources) resources.push(located);
    if (page.status === 'failed') return { ...page, resources };
    if (page.status === 'incomplete') unreadable = page.why;
    if (!hasNextPage(answer.resource))
      return unreadable === undefined ? { status: 'complete', resources } : stopped(unreadable);
    if (resources.length > MOST_RESOURCES) return stopped(`more than ${MOST_RESOURCES} resources`);
    link = nextPageUrl(answer.resource);
  }
}

/** A search is answered by a Bundle; an OperationOutcome in its place says that it failed. */
function notASearch(resource: JsonObject): DataSet {
  const set = readDataSet({ page: resource }, 'page', 'Bundle');
  return set.status === 'failed' ? set : { status: 'failed', resources: [], why: 'not a search result' };
}
