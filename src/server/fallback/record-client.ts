import { setTimeout as sleep } from 'node:timers/promises';
import type { FhirResource, SearchParams } from 'fhir-kit-client';
import type { Logger } from 'pino';
import type { JsonObject } from '../../fhir/json.js';
import { isPassing, ReadFault } from './fault.js';
import type { Fault } from './fault.js';
import { newFhirClient } from './fhir-client.js';
import type { Terms } from './ladder.js';
import { newLanes } from './lanes.js';

export type Answer =
  { readonly ok: true; readonly resource: JsonObject } | { readonly ok: false; readonly fault: Fault };

/** What a request is for: all that the log may know of it. */
export interface Purpose {
  readonly key: string;
  readonly type: string;
}

/** Asks one FHIR server, all requests together within one budget; faults come back as values. */
export interface RecordClient {
  readonly read: (purpose: Purpose, id: string) => Promise<Answer>;
  readonly search: (purpose: Purpose, terms: Terms) => Promise<Answer>;
  readonly page: (purpose: Purpose, url: string) => Promise<Answer>;
}

export interface RecordClientParts {
  readonly base: string;
  readonly token: string | undefined;
  readonly budgetMs: number;
  readonly log: Logger;
  readonly now: () => number;
}

const MOST_PARALLEL = 6;
const MOST_BYTES = 16 * 1024 * 1024;
const PAUSE_MS = 25;

/** The budget runs from here on. */
export function newRecordClient(parts: RecordClientParts): RecordClient {
  const end = performance.now() + parts.budgetMs;
  const left = (): number => end - performance.now();
  const client = newFhirClient(parts.base, parts.token, () => ({ bytes: MOST_BYTES, ms: left() }));
  const inLane = newLanes(MOST_PARALLEL);

  const attempt = async (purpose: Purpose, call: () => Promise<FhirResource>): Promise<Answer> => {
    if (left() <= 0) return { ok: false, fault: { kind: 'timeout' } };
    const started = performance.now();
    const answer = await settle(call);
    logAnswer(parts.log, purpose, answer, performance.now() - started);
    return answer;
  };
  const ask = (purpose: Purpose, call: () => Promise<FhirResource>): Promise<Answer> =>
    inLane(async () => {
      const answer = await attempt(purpose, call);
      if (answer.ok || !isPassing(answer.fault)) return answer;
      const pause = pauseBefore(answer.fault, parts.now);
      if (pause >= left()) return answer;
      await sleep(pause);
      return await attempt(purpose, call);
    });
  return {
    read: (purpose, id) => ask(purpose, () => client.read({ resourceType: purpose.type, id })),
    search: (purpose, terms) =>
      ask(purpose, () => client.search({ resourceType: purpose.type, searchParams: searchParams(terms) })),
    page: (purpose, url) => ask(purpose, () => client.request(url)),
  };
}

function searchParams(terms: Terms): SearchParams {
  const params: Record<string, string[]> = {};
  for (const [name, value] of terms) params[name] = [...(params[name] ?? []), value];
  return params;
}

async function settle(call: () => Promise<FhirResource>): Promise<Answer> {
  try {
    return { ok: true, resource: await call() };
  } catch (error) {
    if (error instanceof ReadFault) return { ok: false, fault: error.fault };
    throw error;
  }
}

/** RFC 9110 section 10.2.3: `Retry-After` is a number of seconds or a date. */
function pauseBefore(fault: Fault, now: () => number): number {
  if (fault.kind !== 'status' || fault.retryAfter === undefined) return PAUSE_MS;
  const text = fault.retryAfter.trim();
  const ms = /^\d+$/.test(text) ? Number(text) * 1000 : Date.parse(text) - now();
  return Number.isNaN(ms) ? PAUSE_MS : Math.max(0, ms);
}

/** Never an address, a token or a body: they name the patient or open the record. */
function logAnswer(log: Logger, purpose: Purpose, answer: Answer, took: number): void {
  const ms = Math.round(took * 100) / 100;
  if (answer.ok) {
    log.debug({ ...purpose, status: '2xx', ms }, 'record read');
    return;
  }
  const { fault } = answer;
  const status = fault.kind === 'status' ? `${Math.floor(fault.status / 100)}xx` : fault.kind;
  log.info({ ...purpose, status, ms }, 'record not read');
}
