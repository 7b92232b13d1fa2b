import type { Bundle, BundleEntry, BundleLink, OperationOutcome } from 'fhir/r4.js';
import type { PublishedType } from '../../render/fhir/search-parameters.js';
import type { Item } from './published-knowledge.js';
import { matches } from './search.js';
import type { Search } from './search.js';

export interface SearchAsked {
  readonly type: PublishedType;
  readonly search: Search;
  readonly parameters: URLSearchParams;
  /** Where the endpoint is reached; links are relative where nobody said. */
  readonly base?: string;
}

/** One page of what was found, with the search as it was understood and the way to the next page. */
export function searchBundle(items: Iterable<Item>, { type, search, parameters, base }: SearchAsked): Bundle {
  const found = [...items].filter(({ resource }) => matches(resource, search.filters));
  const page = found.slice(search.offset, search.offset + search.count);
  const end = search.offset + page.length;
  const understood = understoodIn(parameters, search);
  const address = (offset: number): string =>
    pageUrl(`${base === undefined ? '' : `${base}/`}${type}`, understood, offset);
  const link: BundleLink[] = [
    { relation: 'self', url: address(search.offset) },
    ...(end < found.length && search.count > 0 ? [{ relation: 'next', url: address(end) }] : []),
  ];
  const entry: BundleEntry[] = [
    ...page.map(({ resource }): BundleEntry => ({
      ...(base !== undefined && { fullUrl: `${base}/${type}/${resource.id}` }),
      resource,
      search: { mode: 'match' },
    })),
    ...(search.ignored.length === 0 ? [] : [ignoredEntry(search.ignored)]),
  ];
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    total: found.length,
    link,
    ...(entry.length > 0 && { entry }),
  };
}

/** What was left out of account does not stand in the self link: that is how a client sees it (R4, 3.1.1.1). */
function understoodIn(parameters: URLSearchParams, { ignored }: Search): URLSearchParams {
  const left = new Set(ignored);
  return new URLSearchParams(
    [...parameters].filter(
      ([key, value]) => key !== '_offset' && value !== '' && !left.has(key.split(':')[0] ?? ''),
    ),
  );
}

function pageUrl(path: string, understood: URLSearchParams, offset: number): string {
  const query = new URLSearchParams(understood);
  if (offset > 0) query.set('_offset', String(offset));
  const text = query.toString();
  return text === '' ? path : `${path}?${text}`;
}

function ignoredEntry(ignored: readonly string[]): BundleEntry {
  const unknown = ignored.length === 1 ? 'parameter is' : 'parameters are';
  const resource: OperationOutcome = {
    resourceType: 'OperationOutcome',
    issue: [
      {
        severity: 'warning',
        code: 'not-supported',
        diagnostics: `${ignored.length} search ${unknown} unknown and left out of account; the self link holds those that count`,
      },
    ],
  };
  return { resource, search: { mode: 'outcome' } };
}
