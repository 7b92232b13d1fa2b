import express, { Router } from 'express';
import type { Request, Response } from 'express';
import { issue } from '../../base/result.js';
import { PUBLISHED_TYPES } from '../../render/fhir/search-parameters.js';
import type { PublishedType } from '../../render/fhir/search-parameters.js';
import type { ServiceParts } from '../app.js';
import { perInstallation } from '../installation.js';
import { jsonBody } from '../json-body.js';
import { allowOnly, answerProblem } from '../problems.js';
import { releasedRulebooks } from '../released-rulebooks.js';
import type { ReleasedRulebooks } from '../released-rulebooks.js';
import { locationOf } from '../served-at.js';
import { answerEvaluate } from './evaluate.js';
import { formatOf, sendJson } from './format.js';
import { publishedKnowledge } from './published-knowledge.js';
import type { Item, PublishedKnowledge } from './published-knowledge.js';
import { readSearch } from './search.js';
import { searchBundle } from './search-bundle.js';

const FHIR_JSON = ['application/fhir+json', 'application/json'] as const;

/** A search has a few short parameters; more is no search. */
const SEARCH_LIMIT = '16kb';

/** The knowledge as FHIR R4, below `/fhir`: read and search, and `$evaluate`. */
export function fhirEndpoint(parts: ServiceParts, released: ReleasedRulebooks = releasedRulebooks()): Router {
  const router = Router({ caseSensitive: true, strict: true });
  const published = perInstallation((installation) => publishedKnowledge(installation, parts));
  const knowledge = (): PublishedKnowledge => published(parts.installation());
  router.get('/metadata', (request, response) => {
    const item = knowledge().get('CapabilityStatement')?.get('kotyle');
    sendItem(item, request, response);
  });
  router.all('/metadata', allowOnly('GET', 'HEAD'));
  for (const type of PUBLISHED_TYPES) {
    router.get(`/${type}`, (request, response) => {
      answerSearch(queryOf(request), { type, request, response, knowledge: knowledge() }, parts);
    });
    router.all(`/${type}`, allowOnly('GET', 'HEAD'));
    const form = express.text({ type: 'application/x-www-form-urlencoded', limit: SEARCH_LIMIT });
    router.post(`/${type}/_search`, form, (request, response) => {
      const body: unknown = request.body;
      const sent = new URLSearchParams(typeof body === 'string' ? body : '');
      const all = new URLSearchParams([...queryOf(request), ...sent]);
      answerSearch(all, { type, request, response, knowledge: knowledge() }, parts);
    });
    router.all(`/${type}/_search`, allowOnly('POST'));
    router.get(`/${type}/:id`, (request, response) => {
      const { id } = request.params;
      const item = knowledge().get(type)?.get(id);
      if (!item && isGone(type, id, released))
        answerProblem(response, [issue('gone', '', 'expected what is published, found what was taken back')]);
      else sendItem(item, request, response);
    });
    router.all(`/${type}/:id`, allowOnly('GET', 'HEAD'));
  }
  const body = jsonBody(FHIR_JSON, parts.config.bodyLimitBytes);
  router.post('/$evaluate', ...body, parts.admission.call(answerEvaluate(parts)));
  router.all('/$evaluate', allowOnly('POST'));
  return router;
}

function queryOf(request: Request): URLSearchParams {
  const mark = request.url.indexOf('?');
  return new URLSearchParams(mark < 0 ? '' : request.url.slice(mark + 1));
}

function sendItem(item: Item | undefined, request: Request, response: Response): void {
  const format = formatOf(request, response);
  if (!format) return;
  if (!item) {
    answerProblem(response, [issue('unknown-path', '', 'expected the id of a published resource')]);
    return;
  }
  response.setHeader('ETag', item.etag);
  if (isKnown(request.headers['if-none-match'], item.etag)) response.status(304).end();
  else sendJson(response, format, item.text);
}

/** Compared weakly, as RFC 9110 asks for reading. */
function isKnown(header: string | undefined, etag: string): boolean {
  const bare = (one: string): string => one.trim().replace(/^W\//, '');
  return (header ?? '').split(',').some((one) => one.trim() === '*' || bare(one) === bare(etag));
}

interface SearchRequest {
  readonly type: PublishedType;
  readonly request: Request;
  readonly response: Response;
  readonly knowledge: PublishedKnowledge;
}

function answerSearch(
  parameters: URLSearchParams,
  { type, request, response, knowledge }: SearchRequest,
  parts: ServiceParts,
): void {
  const format = formatOf(request, response);
  if (!format) return;
  const strict = /(?:^|[,;\s])handling=strict(?:$|[,;\s])/.test(request.headers['prefer']?.toString() ?? '');
  const search = readSearch(parameters, strict);
  if (!search.ok) {
    answerProblem(response, search.issues);
    return;
  }
  const { publicUrl } = locationOf(parts);
  const bundle = searchBundle(knowledge.get(type)?.values() ?? [], {
    type,
    search: search.value,
    parameters,
    ...(publicUrl !== undefined && { base: `${publicUrl}/fhir` }),
  });
  sendJson(response, format, JSON.stringify(bundle));
}

/** The folder of the rulebook whose files become resources of a type, with the file's name as id. */
const FOLDERS: Partial<Record<PublishedType, string>> = {
  PlanDefinition: 'advisories',
  Library: 'advisories',
  ValueSet: 'value-sets',
  CodeSystem: 'code-systems',
};

function isGone(type: PublishedType, id: string, released: ReleasedRulebooks): boolean {
  const folder = FOLDERS[type];
  return folder !== undefined && released.hadFile(folder, id);
}
