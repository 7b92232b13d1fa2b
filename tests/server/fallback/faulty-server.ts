import type { IncomingMessage, RequestListener, ServerResponse } from 'node:http';
import type { JsonObject } from '../../../src/fhir/json.js';
import { listen } from '../../fhir-server/listening.js';
import type { Listening } from '../../fhir-server/listening.js';

/** Answers a request wrongly, on a real socket. */
export type Misbehave = (response: ServerResponse, request: IncomingMessage) => void;

export interface FaultyServer extends Listening {
  readonly base: string;
}

/** Answers every read and search rightly, apart from those for which `fault` gives something else to do. */
export async function startFaultyServer(
  fault: (path: string, base: string) => Misbehave | undefined,
): Promise<FaultyServer> {
  const listening = await listen((origin): RequestListener => {
    const base = `${origin}/fhir`;
    return (request, response) => {
      const path = pathOf(request.url ?? '');
      const misbehave = fault(path, base);
      if (misbehave) misbehave(response, request);
      else sendJson(response, rightAnswer(path));
    };
  });
  return { ...listening, base: `${listening.origin}/fhir` };
}

/** What was asked for, relative to the base. */
export function pathOf(url: string): string {
  return url.replace(/^\/fhir\/?/, '');
}

/** One resource for a read, a Bundle with one resource for a search. */
export function rightAnswer(path: string): JsonObject {
  const [, type = '', id] = /^([A-Za-z]+)(?:\/([^?]+))?/.exec(path) ?? [];
  return id === undefined ? page([{ resourceType: type, id: 'one' }]) : { resourceType: type, id };
}

export function page(resources: readonly unknown[], next?: string): JsonObject {
  return {
    resourceType: 'Bundle',
    type: 'searchset',
    ...(next !== undefined && { link: [{ relation: 'next', url: next }] }),
    entry: resources.map((resource) => ({ resource, search: { mode: 'match' } })),
  };
}

export function sendJson(
  response: ServerResponse,
  body: unknown,
  headers: Readonly<Record<string, string>> = {},
): void {
  response.writeHead(200, { 'content-type': 'application/fhir+json', ...headers });
  response.end(JSON.stringify(body));
}

export function sendStatus(
  response: ServerResponse,
  status: number,
  headers: Readonly<Record<string, string>> = {},
): void {
  response.writeHead(status, { 'content-type': 'application/fhir+json', ...headers });
  response.end(
    JSON.stringify({ resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'exception' }] }),
  );
}

export function sendText(response: ServerResponse, type: string, text: string): void {
  response.writeHead(200, { 'content-type': type });
  response.end(text);
}

/** More bytes than any answer may have, without saying how many; stops when nobody reads on. */
export function sendEndless(response: ServerResponse): void {
  response.writeHead(200, { 'content-type': 'application/fhir+json' });
  const chunk = Buffer.alloc(256 * 1024, 0x20);
  const more = (): void => {
    while (!response.destroyed && response.write(chunk));
  };
  response.on('drain', more);
  more();
}
