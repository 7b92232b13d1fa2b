import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { advisor as shipped } from '../../advice/patients.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { openStore } from '../../../src/store/open-store.js';
import {
  cardsOf,
  ORDER_PATH,
  orderCall,
  post,
  problem,
  TEST_KEY,
  testApp,
} from '../../server/test-service.js';
import type { Reply } from '../../server/test-service.js';
import { everyAnswer, speakingCall, speakingCards } from './answers.js';

const LISTED = 'https://chart.example';

describe('cross-origin access', () => {
  const open = testApp({ corsOrigins: [LISTED] });
  const preflight = async (app: ReturnType<typeof testApp>, origin: string): Promise<Reply> =>
    await request(app).options(ORDER_PATH).set({
      Origin: origin,
      'Access-Control-Request-Method': 'POST',
      'Access-Control-Request-Headers': 'authorization',
    });
  const told = ({ headers }: Reply): readonly string[] =>
    Object.entries(headers)
      .filter(([name]) => name.startsWith('access-control-'))
      .map(([name, value]) => `${name}: ${value}`);

  it('[X1] lets a page of a listed origin read what it is answered', async () => {
    const reply = (await request(open).get('/cds-services').set('Origin', LISTED)) as Reply;
    expect(told(reply)).toEqual([`access-control-allow-origin: ${LISTED}`]);
  });

  it('[X2] is off unless origins are listed, names no others, and never allows credentials or every origin', async () => {
    expect(told(await preflight(testApp(), LISTED))).toEqual([]);
    for (const origin of [
      'https://evil.example',
      'null',
      `${LISTED}.evil.example`,
      'http://chart.example',
      `${LISTED}:8443`,
    ])
      expect(told(await preflight(open, origin))).toEqual([]);
    expect([...told(await preflight(open, LISTED))].sort()).toEqual([
      'access-control-allow-headers: Authorization, Content-Type',
      'access-control-allow-methods: GET, POST, OPTIONS',
      `access-control-allow-origin: ${LISTED}`,
    ]);
  });

  it('[X3] answers the preflight without looking who asks', async () => {
    const reply = await preflight(open, LISTED);
    expect(reply.status).toBe(204);
    expect(reply.text).toBe('');
  });
});

describe('a refusal', () => {
  it('[E3, E4, E7] has the status of its reason', async () => {
    const answers = await everyAnswer(testApp());
    const statuses: Readonly<Record<string, number>> = {
      'discovery by POST': 405,
      'not JSON': 400,
      'no context': 400,
      'not a service': 404,
      'not a path': 404,
      'a form': 415,
      'feedback without a list': 400,
      undecided: 412,
    };
    for (const [what, status] of Object.entries(statuses)) expect(answers[what]?.status, what).toBe(status);
    problem(await post(testApp({ bodyLimitBytes: 1024 }), ORDER_PATH, orderCall()), 413);
  });

  it('[E7, E9] says at every address there is which verbs it takes', async () => {
    const taken: Readonly<Record<string, string>> = {
      '/health': 'GET',
      '/ready': 'GET',
      '/cds-services': 'GET',
      '/cds-services/hip-stability-order': 'POST',
      '/cds-services/hip-stability-order/feedback': 'POST',
      '/fhir/metadata': 'GET',
      '/fhir/Questionnaire/hip-plan': 'GET',
      '/fhir/$evaluate': 'POST',
      '/openapi.json': 'GET',
      '/evidence/': 'GET',
    };
    const app = testApp();
    for (const [path, verb] of Object.entries(taken))
      for (const other of ['delete', 'put', 'patch', 'options'] as const) {
        const reply = (await request(app)[other](path)) as Reply;
        problem(reply, 405);
        expect(reply.headers['allow']?.split(', ')[0], path).toBe(verb);
      }
  });

  it('[E8] is 500 for a fault of ours, and 503 where an answer that must be kept could not be', async () => {
    const advisor = { ...shipped, decide: () => Promise.reject(new Error('out of order')) };
    expect(
      problem(await post(testApp({ advisor }), ORDER_PATH, orderCall()), 500, ['out of order'])[0]?.code,
    ).toBe('exception');
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    await store.close();
    const [path, call] = speakingCall('order-sign');
    problem(await post(testApp({ store, audit: 'required' }), path, call), 503);
    problem(
      await post(testApp({ store }), `${path}/feedback`, {
        feedback: [
          { card: call.hookInstance, outcome: 'overridden', outcomeTimestamp: '2026-11-24T09:59:00Z' },
        ],
      }),
      503,
    );
  });

  it('[E9] is a valid OperationOutcome, each issue with severity and code, whatever was wrong', async () => {
    const refusals = Object.entries(await everyAnswer(testApp())).filter(([, { status }]) => status !== 200);
    expect(refusals.length).toBeGreaterThan(6);
    for (const [what, { text, headers }] of refusals) {
      expect(headers['content-type'], what).toBe('application/fhir+json; charset=utf-8');
      const outcome = JSON.parse(text) as {
        readonly resourceType: string;
        readonly issue: readonly { readonly severity: string; readonly code: string }[];
      };
      expect(outcome.resourceType).toBe('OperationOutcome');
      expect(fhirIssues(outcome), what).toEqual([]);
      for (const { severity, code } of outcome.issue)
        expect([severity, code].join('')).toMatch(/^error[a-z-]+$/);
    }
  });

  it('[E11] for want of data is not given where a part can be told: that is 200 and a card', async () => {
    const cards = cardsOf(await post(testApp(), ORDER_PATH, { ...orderCall(), prefetch: {} }));
    expect(cards.map(({ source }) => source.topic.code)).toEqual(['data-gap']);
  });
});

describe('extensions', () => {
  it('[T1, T2] are objects wherever the service has one: listing and cards', async () => {
    const { text } = (await request(testApp()).get('/cds-services')) as Reply;
    const { services } = JSON.parse(text) as { readonly services: readonly object[] };
    for (const one of [...services, ...(await speakingCards(testApp()))] as readonly {
      readonly extension: unknown;
    }[]) {
      expect(one.extension).toBeTypeOf('object');
      expect(Array.isArray(one.extension)).toBe(false);
    }
  });

  it('[T3] have one name each, a domain turned around', async () => {
    for (const card of await speakingCards(testApp()))
      expect(Object.keys(card.extension)).toEqual(['example.kotyle.advisory']);
    const { text } = (await request(testApp()).get('/cds-services')) as Reply;
    const { services } = JSON.parse(text) as { readonly services: readonly { readonly extension: object }[] };
    for (const { extension } of services) expect(Object.keys(extension)).toEqual(['example.kotyle.service']);
  });

  it('[T4] of a card name rule, release, engine and evaluation', async () => {
    for (const { extension, source } of await speakingCards(testApp())) {
      const own = extension['example.kotyle.advisory'];
      expect(own['rule']).toBe(source.topic.code);
      for (const name of ['rulebook', 'rulebookHash', 'engine', 'evaluation'])
        expect(own[name], name).toMatch(/\S/);
    }
  });

  it('[N3] of a card tell when it was made and the dates of what it rests on', async () => {
    const cards = await speakingCards(testApp());
    for (const { extension } of cards)
      expect(extension['example.kotyle.advisory']['evaluatedAt']).toBe('2026-11-24T10:00:00.000Z');
    const steep = cards.filter(({ source }) => source.topic.code === 'cup-inclination-outside-published');
    expect(steep.length).toBeGreaterThan(0);
    for (const { extension } of steep) {
      const own = extension['example.kotyle.advisory'];
      for (const name of ['newestInput', 'oldestInput']) expect(own[name]).toMatch(/^\d{4}-\d{2}-\d{2}/);
      expect(String(own['oldestInput']) <= String(own['newestInput'])).toBe(true);
    }
  });

  it('[N2] of cards of a later call have other ids, so that old ones can be told from new', async () => {
    const [path, call] = speakingCall('order-sign');
    const first = cardsOf(await post(testApp(), path, call)).map(({ uuid }) => uuid);
    const later = { ...call, hookInstance: '11111111-1111-4111-8111-111111111111' };
    const second = cardsOf(await post(testApp(), path, later)).map(({ uuid }) => uuid);
    expect(second).toHaveLength(first.length);
    expect(second.filter((id) => first.includes(id))).toEqual([]);
  });
});
