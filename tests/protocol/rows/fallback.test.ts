import { afterEach, describe, expect, it } from 'vitest';
import { startFhirServer } from '../../fhir-server/fhir-server.js';
import type { FhirServer } from '../../fhir-server/fhir-server.js';
import type { ServerSwitches } from '../../fhir-server/refusals.js';
import { AMPLE_MS } from '../../server/fallback/records.js';
import { accessTo } from '../../server/record-calls.js';
import { leftHipVisit } from '../../server/hook-calls.js';
import {
  BOOKING_PATH,
  cardsOf,
  ORDER,
  ORDER_PATH,
  PATIENT,
  post,
  rulesOf,
  testApp,
} from '../../server/test-service.js';
import type { AppSettings, WireCard } from '../../server/test-service.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { grantOf } from '../../../src/server/fallback/scopes.js';
import { speakingCall, STEEP_PLAN } from './answers.js';
import { loggedCall } from './call-log.js';

const TOKEN = 'Zqxtoken';
const [, { prefetch, ...CALL }] = speakingCall('order-sign');

const running: FhirServer[] = [];
afterEach(async () => {
  await Promise.all(running.splice(0).map((server) => server.stop()));
});

async function start(switches: ServerSwitches = {}): Promise<FhirServer> {
  const server = await startFhirServer([PATIENT, ...STEEP_PLAN], switches);
  running.push(server);
  return server;
}

async function ask(
  server: FhirServer,
  access: JsonObject,
  settings: AppSettings = {},
): Promise<readonly WireCard[]> {
  const service = testApp({ fhirServers: [server.base], fhirBudgetMs: AMPLE_MS, ...settings });
  return cardsOf(await post(service, ORDER_PATH, { ...CALL, ...access }));
}

describe('reading from the record', () => {
  it('[F1] happens with server and token, and not without either', async () => {
    expect(Object.keys(prefetch).length).toBeGreaterThan(0);
    const server = await start();
    await ask(server, {});
    await ask(server, { fhirServer: server.base });
    expect(server.requests).toEqual([]);
    expect(rulesOf(await ask(server, accessTo(server.base)))).toContain('cup-inclination-outside-published');
    expect(server.requests.length).toBeGreaterThan(5);
  });

  it('[F2] carries the token as bearer with every request', async () => {
    const server = await start({ token: TOKEN });
    await ask(server, accessTo(server.base, { token: TOKEN }));
    expect(new Set(server.requests.map(({ authorization }) => authorization))).toEqual(
      new Set([`Bearer ${TOKEN}`]),
    );
  });

  it('[F3] leaves the token in no log and no answer, also where the server refuses it', async () => {
    for (const switches of [{}, { token: 'another' }]) {
      const server = await start(switches);
      const settings = { fhirServers: [server.base], fhirBudgetMs: AMPLE_MS };
      const { reply, lines } = await loggedCall(
        ORDER_PATH,
        { ...CALL, ...accessTo(server.base, { token: TOKEN }) },
        settings,
      );
      expect(lines.length).toBeGreaterThan(1);
      expect(JSON.stringify(lines) + reply.text).not.toContain(TOKEN);
    }
  });

  it('[F4] takes the scopes of SMART 1 and of SMART 2 for the same', () => {
    // Truth: SMART App Launch 2, "scopes for requesting FHIR resources": .read is .rs, .write is .cud, .* is .cruds.
    for (const who of ['patient', 'user', 'system'])
      for (const type of ['Condition', '*'])
        for (const [first, second] of [
          ['read', 'rs'],
          ['write', 'cud'],
          ['*', 'cruds'],
        ] as const)
          for (const right of ['r', 's'] as const)
            expect(grantOf(`${who}/${type}.${first}`, 'Condition', right)).toBe(
              grantOf(`${who}/${type}.${second}`, 'Condition', right),
            );
    expect(grantOf('patient/Condition.rs', 'Condition', 's')).toBe('whole');
    expect(grantOf('patient/Condition.cud', 'Condition', 's')).toBe('none');
    expect(grantOf('patient/Procedure.read', 'Condition', 'r')).toBe('none');
  });

  it('[F5] does not happen with a token that has run out', async () => {
    const server = await start();
    for (const expiresIn of [0, -1])
      expect(rulesOf(await ask(server, accessTo(server.base, { expiresIn })))).toContain('data-gap');
    expect(server.requests).toEqual([]);
    await ask(server, accessTo(server.base, { expiresIn: 1 }));
    expect(server.requests.length).toBeGreaterThan(0);
  });

  it('[F6] needs no token to be answered: a service not registered anywhere says what it could not read', async () => {
    const server = await start({ token: 'registered' });
    expect(rulesOf(await ask(server, accessTo(server.base)))).toContain('data-gap');
  });

  it('[F7] asks no server but those on the list', async () => {
    const server = await start();
    const others = [
      server.base.replace('127.0.0.1', 'localhost'),
      `${server.base}x`,
      server.base.replace('/fhir', '/FHIR'),
    ];
    for (const other of others) expect(rulesOf(await ask(server, accessTo(other)))).toContain('data-gap');
    expect(rulesOf(await ask(server, accessTo(server.base), { fhirServers: [] }))).toContain('data-gap');
    expect(server.requests).toEqual([]);
  });

  it('[F8] is cut off by the budget, all requests at once, and the card says what could not be read', async () => {
    // Far beyond what a test is given: a request that is waited for ends it.
    const server = await start({ latencyMs: 60_000 });
    const cards = await ask(server, accessTo(server.base), { fhirBudgetMs: 50 });
    expect(rulesOf(cards)).toEqual(['data-gap']);
    expect(cards[0]?.detail).toContain('could not be read (no answer in time)');
  });

  it('[F9] follows no reference to another server', async () => {
    const server = await start();
    const stranger = await start();
    const basedOn = [{ reference: `${stranger.base}/ServiceRequest/order-1` }];
    const { prefetch: none, ...visit } = leftHipVisit({ serviceType: [], basedOn });
    expect(none).toBeDefined();
    const service = testApp({ fhirServers: [server.base, stranger.base], fhirBudgetMs: AMPLE_MS });
    await post(service, BOOKING_PATH, { ...visit, ...accessTo(server.base) });
    expect(stranger.requests).toEqual([]);
    expect(ORDER['id']).toBe('order-1');
  });
});
