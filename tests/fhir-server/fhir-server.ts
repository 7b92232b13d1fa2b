import express from 'express';
import type { Express, Response } from 'express';
import type { JsonObject } from '../../src/fhir/json.js';
import { capabilities, searchPage } from './answers.js';
import { listen } from './listening.js';
import type { Listening } from './listening.js';
import { newRecordStore } from './record-store.js';
import type { RecordStore } from './record-store.js';
import { refusal, refuseRequest, refuseSearch, refuseType } from './refusals.js';
import type { Refusal, ServerSwitches } from './refusals.js';

export interface FhirServer extends Listening {
  readonly base: string;
}

/** A FHIR R4 server on this machine, with the habits the switches give it. */
export async function startFhirServer(
  resources: readonly JsonObject[],
  switches: ServerSwitches = {},
): Promise<FhirServer> {
  const store = await newRecordStore(resources);
  const listening = await listen((origin) => {
    const app = express();
    app.use('/fhir', fhirApp(`${origin}/fhir`, store, switches));
    return app;
  });
  return { ...listening, base: `${listening.origin}/fhir` };
}

function fhirApp(base: string, store: RecordStore, switches: ServerSwitches): Express {
  const app = express();
  app.disable('etag');
  const pager = newPager(base, switches);
  app.use((_request, _response, next) => {
    setTimeout(next, switches.latencyMs ?? 0);
  });
  app.use((request, response, next) => {
    const refused = refuseRequest(request, switches);
    if (refused) refuse(response, refused);
    else next();
  });
  app.get('/metadata', (_request, response) => {
    send(response, 200, capabilities(Object.keys(switches.unknownTypes ?? {})));
  });
  app.get('/', (request, response) => {
    pager.answerNext(new URL(request.url, base).searchParams.get('_getpages') ?? '', response);
  });
  app.get('/:type', async (request, response) => {
    const { type } = request.params;
    const terms = new URL(request.url, base).searchParams;
    const refused = refuseType(type, switches) ?? refuseSearch(type, terms, switches);
    if (refused) refuse(response, refused);
    else pager.answerFirst(await store.search(type, terms), `${base}${request.url}`, response);
  });
  app.get('/:type/:id', (request, response) => {
    const { type, id } = request.params;
    const resource = store.read(type, id);
    const refused =
      refuseType(type, switches) ?? (resource ? undefined : refusal(404, 'not-found', 'not here'));
    if (refused) refuse(response, refused);
    else send(response, 200, resource);
  });
  app.use((_request, response) => {
    refuse(response, refusal(405, 'not-supported', 'reads and searches only'));
  });
  return app;
}

interface Pager {
  readonly answerFirst: (found: readonly JsonObject[], self: string, response: Response) => void;
  readonly answerNext: (token: string, response: Response) => void;
}

/** Pages as many servers do it: the next page is a token at the base, which says nothing of the search. */
function newPager(base: string, switches: ServerSwitches): Pager {
  const size = switches.pageSize ?? 20;
  const waiting = new Map<string, { readonly found: readonly JsonObject[]; readonly from: number }>();
  const answer = (found: readonly JsonObject[], from: number, self: string, response: Response): void => {
    const token = `page-${waiting.size + 1}`;
    const more = found.length > from + size;
    if (more) waiting.set(token, { found, from: from + size });
    const bundle = searchPage({
      base,
      self,
      next: more ? `${base}?_getpages=${token}` : undefined,
      total: found.length,
      resources: found.slice(from, from + size),
      warning: switches.addsWarnings ?? false,
    });
    send(response, 200, bundle);
  };
  return {
    answerFirst: (found, self, response) => answer(found, 0, self, response),
    answerNext: (token, response) => {
      const page = waiting.get(token);
      if (page) answer(page.found, page.from, `${base}?_getpages=${token}`, response);
      else refuse(response, refusal(404, 'not-found', 'no such page'));
    },
  };
}

function refuse(response: Response, { status, body }: Refusal): void {
  send(response, status, body);
}

function send(response: Response, status: number, body: unknown): void {
  response.status(status).type('application/fhir+json').send(JSON.stringify(body));
}
