import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../../src/store/open-store.js';
import { ORDER_PATH, orderCall, planned, problem, TEST_KEY, testApp, TEXTBOOK } from '../test-service.js';
import { ask, capture, client, ISS, productionApp, PUBLIC_URL, SERVICE_URL, token } from './tokens.js';
import type { Asked } from './tokens.js';

const FEEDBACK = {
  feedback: [
    {
      card: '00000001-0000-4000-8000-000000000000',
      outcome: 'overridden',
      outcomeTimestamp: '2026-11-24T09:59:00Z',
    },
  ],
};

/** Every endpoint that needs a caller, the audience its token must name, and what a known caller gets there. */
const ENDPOINTS: readonly (readonly [string, Asked, readonly string[], number])[] = [
  ['discovery', { method: 'get', path: '/cds-services' }, [`${PUBLIC_URL}/cds-services`], 200],
  ['discovery by HEAD', { method: 'head', path: '/cds-services' }, [`${PUBLIC_URL}/cds-services`], 200],
  ['a call', { body: orderCall() }, [SERVICE_URL], 200],
  [
    'feedback',
    { path: `${ORDER_PATH}/feedback`, body: FEEDBACK },
    [`${SERVICE_URL}/feedback`, SERVICE_URL],
    200,
  ],
  [
    'a service that is not there',
    { path: '/cds-services/nothing' },
    [`${PUBLIC_URL}/cds-services/nothing`],
    404,
  ],
  ['a wrong method', { method: 'put' }, [SERVICE_URL], 405],
  [
    'the knowledge as FHIR',
    { method: 'get', path: '/fhir/Questionnaire/hip-plan' },
    [`${PUBLIC_URL}/fhir`],
    200,
  ],
];

describe('[S1] in production', () => {
  const app = productionApp();

  it.each(ENDPOINTS)('%s needs a token, and one that names it', async (_name, asked, audiences, status) => {
    expect((await ask(app, undefined, asked)).status).toBe(401);
    const elsewhere = `${PUBLIC_URL}/cds-services/hip-stability-chart`;
    expect((await ask(app, `Bearer ${token({ claims: { aud: elsewhere } })}`, asked)).status).toBe(401);
    for (const aud of audiences) {
      const reply = await ask(app, `Bearer ${token({ claims: { aud } })}`, asked);
      expect(reply.status, reply.text).toBe(status);
    }
  });

  it('[S7] an operation of the FHIR endpoint takes its own URL and not the base', async () => {
    for (const path of ['/fhir/$evaluate', '/fhir/%24evaluate']) {
      const base = token({ claims: { aud: `${PUBLIC_URL}/fhir` } });
      expect((await ask(app, `Bearer ${base}`, { path })).status, path).toBe(401);
      const own = token({ claims: { aud: `${PUBLIC_URL}/fhir/$evaluate` } });
      expect((await ask(app, `Bearer ${own}`, { path })).status, path).not.toBe(401);
    }
  });

  it('[X3] a preflight needs none, and health needs none', async () => {
    const crossing = productionApp({ corsOrigins: ['https://chart.example'] });
    expect((await ask(crossing, undefined, { method: 'options' })).status).toBe(401);
    const preflight = await request(crossing)
      .options(`/kotyle${ORDER_PATH}`)
      .set('Origin', 'https://chart.example')
      .set('Access-Control-Request-Method', 'POST');
    expect(preflight.status).toBe(204);
    expect(preflight.headers['access-control-allow-origin']).toBe('https://chart.example');
    expect((await ask(app, undefined, { method: 'get', path: '/health' })).status).toBe(200);
  });

  it('a body is not read for a caller who is not known', async () => {
    const small = productionApp({ bodyLimitBytes: 1024 });
    const large = { ...orderCall(), pad: 'x'.repeat(10_000) };
    expect((await ask(small, undefined, { body: large })).status).toBe(401);
    expect((await ask(small, `Bearer ${token()}`, { body: large })).status).toBe(413);
  });

  it('is not built without an address to compare audiences with', () => {
    expect(() => testApp({ mode: 'production' })).toThrow(/public URL/);
  });
});

describe('in development', () => {
  it('nobody is asked for a token, and one that is sent is not looked at', async () => {
    const app = testApp({ publicUrl: PUBLIC_URL });
    for (const authorization of [undefined, 'Bearer nonsense', `Bearer ${token()}`])
      expect((await ask(app, authorization, { body: orderCall() })).status).toBe(200);
  });
});

describe('[S9] the tenant of a token', () => {
  it('must be on the list where there is one, and is free where there is none', async () => {
    const { log, refusals } = capture();
    const listed = productionApp({ log, clients: [client({ tenants: ['north', 'south'] })] });
    for (const tenant of [undefined, 'east', 'North', 'north '])
      expect((await ask(listed, `Bearer ${token({ claims: { tenant } })}`)).status, tenant).toBe(401);
    expect(new Set(refusals().map(({ reason }) => reason))).toEqual(new Set(['wrong-tenant']));
    for (const tenant of ['north', 'south'])
      expect((await ask(listed, `Bearer ${token({ claims: { tenant } })}`)).status).toBe(400);
    const free = productionApp();
    for (const tenant of [undefined, 'anything'])
      expect((await ask(free, `Bearer ${token({ claims: { tenant } })}`)).status).toBe(400);
  });
});

describe('[E6] a client that may call some services only', () => {
  it('is told 403 at the others, and may read the discovery document', async () => {
    const app = productionApp({ clients: [client({ services: ['hip-stability-order'] })] });
    expect((await ask(app, `Bearer ${token()}`, { body: orderCall() })).status).toBe(200);
    const discovery = token({ claims: { aud: `${PUBLIC_URL}/cds-services` } });
    expect((await ask(app, `Bearer ${discovery}`, { method: 'get', path: '/cds-services' })).status).toBe(
      200,
    );
    for (const path of [
      '/cds-services/hip-stability-booking',
      '/cds-services/hip-stability-booking/feedback',
    ]) {
      const aud = `${PUBLIC_URL}${path}`;
      const issues = problem(await ask(app, `Bearer ${token({ claims: { aud } })}`, { path }), 403);
      expect(issues[0]?.code).toBe('forbidden');
    }
    const fhir = token({ claims: { aud: `${PUBLIC_URL}/fhir` } });
    const path = '/fhir/Questionnaire/hip-plan';
    expect((await ask(app, `Bearer ${fhir}`, { method: 'get', path })).status).toBe(403);
  });
});

describe('who called', () => {
  it('is kept with the decision and with feedback, as issuer and tenant', async () => {
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const app = productionApp({ store, audit: 'required' });
    const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];
    const text = token({ claims: { tenant: 'north' } });
    await ask(app, `Bearer ${text}`, { body: orderCall({ measures }) });
    const kept: { readonly iss: string; readonly tenant?: string }[] = [];
    for await (const decision of store.decisions({})) kept.push(decision);
    expect(kept).toMatchObject([{ iss: ISS, tenant: 'north' }]);
    const aud = SERVICE_URL;
    await ask(app, `Bearer ${token({ claims: { aud } })}`, {
      path: `${ORDER_PATH}/feedback`,
      body: FEEDBACK,
    });
    expect(await store.answersTo('00000001-0000-4000-8000-000000000000')).toMatchObject([{ iss: ISS }]);
  });
});
