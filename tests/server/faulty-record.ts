import type { RequestListener } from 'node:http';
import type { JsonObject } from '../../src/fhir/json.js';
import type { SetQuery } from '../../src/server/fallback/set-query.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import { listen } from '../fhir-server/listening.js';
import type { Listening } from '../fhir-server/listening.js';
import { sendJson, sendStatus, sendText, sendEndless } from './fallback/faulty-server.js';
import type { Misbehave } from './fallback/faulty-server.js';

/** What a FHIR server may do instead of answering. */
export interface Fault {
  readonly what: string;
  /** Made for the address of another server; `right` is what should have been answered. */
  readonly misbehave: (stranger: string, right: JsonObject) => Misbehave;
  /** Can't happen where one resource is read. */
  readonly searchesOnly?: true;
  /** Never ends by itself. */
  readonly slow?: true;
  /** Leaves what stood on the first page. */
  readonly partly?: true;
}

const status =
  (code: number, headers: Readonly<Record<string, string>> = {}) =>
  (): Misbehave =>
  (response) =>
    sendStatus(response, code, headers);

export const FAULTS: readonly Fault[] = [
  ...[400, 401, 403, 404, 410, 429, 500, 501].map((code) => ({
    what: String(code),
    misbehave: status(code),
  })),
  { what: 'nothing at all', misbehave: () => () => undefined, slow: true },
  {
    what: 'the beginning of an answer and then nothing',
    misbehave: () => (response) => {
      response.writeHead(200, { 'content-type': 'application/fhir+json' });
      response.write('{"resourceType":');
    },
    slow: true,
  },
  {
    what: 'an answer cut off with the connection',
    misbehave: (_stranger, right) => (response, request) => {
      const text = JSON.stringify(right);
      response.writeHead(200, {
        'content-type': 'application/fhir+json',
        'content-length': String(Buffer.byteLength(text)),
      });
      response.write(text.slice(0, text.length / 2), () => request.socket.destroy());
    },
  },
  {
    what: 'half the JSON',
    misbehave: (_stranger, right) => (response) => {
      const text = JSON.stringify(right);
      sendText(response, 'application/fhir+json', text.slice(0, text.length / 2));
    },
  },
  {
    what: 'HTML',
    misbehave: () => (response) => sendText(response, 'text/html', '<html>log in</html>'),
  },
  {
    what: 'the right answer under a wrong content type',
    misbehave: (_stranger, right) => (response) =>
      sendText(response, 'application/fhir+xml', JSON.stringify(right)),
  },
  {
    what: 'a redirect to another origin',
    misbehave: (stranger) => status(302, { location: `${stranger}/fhir/Condition` })(),
  },
  {
    what: 'a next page on another origin',
    misbehave: (stranger, right) => (response) =>
      sendJson(response, { ...right, link: [{ relation: 'next', url: `${stranger}/fhir?page=2` }] }),
    searchesOnly: true,
    partly: true,
  },
  { what: 'more than any answer may hold', misbehave: () => sendEndless },
];

export interface FaultyRecord extends Listening {
  /** The base URL of one scenario: each has its own, so that nothing learnt in one is known in another. */
  readonly baseOf: (scenario: number) => string;
  /** How often a scenario has answered wrongly. */
  readonly misbehavedIn: (scenario: number) => number;
}

/** Which of the questions a scenario answers wrongly. */
export interface Scenario {
  readonly fault: Fault;
  readonly isFaulty: (key: string) => boolean;
}

/**
 * One listening server with a FHIR base for every scenario: it answers as the FHIR server of the tests would, apart
 * from what the scenario names.
 */
export async function startFaultyRecord(
  record: readonly JsonObject[],
  queries: readonly SetQuery[],
  scenarios: readonly Scenario[],
  stranger: string,
): Promise<FaultyRecord> {
  const right = await rightAnswers(record, queries);
  const baseOf = (origin: string, scenario: number): string => `${origin}/${scenario}/fhir`;
  const misbehaved = new Map<number, number>();
  const listening = await listen((): RequestListener => (request, response) => {
    const [, number = '', path = ''] = /^\/(\d+)\/fhir\/(.*)$/.exec(request.url ?? '') ?? [];
    const index = Number(number);
    const { fault, isFaulty } = scenarios[index] ?? {};
    const answer = right.get(decodeURIComponent(path));
    if (fault && isFaulty?.(keyOf(path))) {
      misbehaved.set(index, (misbehaved.get(index) ?? 0) + 1);
      fault.misbehave(stranger, answer ?? { resourceType: 'Bundle', type: 'searchset' })(response, request);
    } else if (answer) sendJson(response, answer);
    else sendStatus(response, 404);
  });
  return {
    ...listening,
    baseOf: (scenario) => baseOf(listening.origin, scenario),
    misbehavedIn: (scenario) => misbehaved.get(scenario) ?? 0,
  };
}

async function rightAnswers(
  record: readonly JsonObject[],
  queries: readonly SetQuery[],
): Promise<ReadonlyMap<string, JsonObject>> {
  const server = await startFhirServer(record, { pageSize: 10_000 });
  try {
    const reads = record.map(({ resourceType, id }) => `${String(resourceType)}/${String(id)}`);
    const urls = [...queries.map(({ url }) => url), ...reads];
    return new Map(
      await Promise.all(
        urls.map(async (url) => {
          const response = await fetch(`${server.base}/${url}`);
          return [url, (await response.json()) as JsonObject] as const;
        }),
      ),
    );
  } finally {
    await server.stop();
  }
}

const KEYS: Readonly<Record<string, string>> = {
  Patient: 'patient',
  PractitionerRole: 'user',
  Encounter: 'encounter',
  Condition: 'conditions',
  Procedure: 'procedures',
  Device: 'devices',
  DeviceUseStatement: 'deviceUses',
  ServiceRequest: 'serviceRequests',
  DeviceRequest: 'deviceRequests',
  QuestionnaireResponse: 'questionnaireResponses',
  Appointment: 'appointments',
};

/** Which set a request is for, in whatever form it is asked; `reference` for an order read by its id. */
function keyOf(path: string): string {
  const type = /^[A-Za-z]+/.exec(path)?.[0] ?? '';
  if (type === 'Observation') return /[?&]category=/.test(path) ? 'measures' : 'observations';
  if (type === 'ServiceRequest' && path.startsWith('ServiceRequest/')) return 'reference';
  return KEYS[type] ?? '';
}
