import request from 'supertest';
import { describe, expect, it, vi } from 'vitest';
import { newMetrics } from '../../../src/server/operations/metrics.js';
import type { Metrics } from '../../../src/server/operations/metrics.js';
import { testPatient } from '../../advice/patients.js';
import {
  callFor,
  cardsOf,
  ORDER_PATH,
  orderCall,
  planned,
  post,
  problem,
  testApp,
  TEXTBOOK,
} from '../test-service.js';

/** A text no label may hold, wherever a client can put a text of its own. */
const HOSTILE = 'HOSTILE-7Q"}\n# HELP';

/** Labels and value of every sample of one metric. */
async function samples(metrics: Metrics, name: string): Promise<ReadonlyMap<string, number>> {
  const lines = (await metrics.text()).split('\n').filter((line) => line.startsWith(`kotyle_${name}`));
  return new Map(
    lines.map((line) => {
      const at = line.lastIndexOf(' ');
      return [line.slice(`kotyle_${name}`.length, at), Number(line.slice(at + 1))];
    }),
  );
}

const FEEDBACK = {
  card: '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e11',
  outcome: 'overridden',
  outcomeTimestamp: '2026-11-24T10:00:00Z',
};

describe('what is counted', () => {
  it('a call: its status, its phases, what every rule said, its cards and its leniencies', async () => {
    const metrics = newMetrics();
    const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];
    const call = { ...orderCall({ measures }), hookInstance: '00000000-0000-0000-0000-0000000000ff' };
    const cards = cardsOf(await post(testApp({ metrics }), ORDER_PATH, call));
    const labels = '{service="hip-stability-order",hook="order-sign",status="200"}';
    expect((await samples(metrics, 'calls_total')).get(labels)).toBe(1);
    // The record is kept after the answer has left.
    await vi.waitFor(async () => {
      const phases = [...(await samples(metrics, 'call_phase_seconds_count')).keys()];
      const named = phases.map((each) => /phase="(\w+)"/.exec(each)?.[1]);
      expect(named.sort()).toEqual(['advise', 'fetch', 'read', 'store']);
    });
    const rule = 'cup-inclination-outside-published';
    expect((await samples(metrics, 'outcomes_total')).get(`{rule="${rule}",outcome="fires"}`)).toBe(1);
    expect([...(await samples(metrics, 'cards_total')).values()].reduce((a, b) => a + b, 0)).toBe(
      cards.length,
    );
    // Integration decisions section 3: each leniency counted.
    expect([...(await samples(metrics, 'leniencies_total')).keys()]).toEqual([
      '{hook="order-sign",leniency="hookInstance not a UUID of RFC 9562"}',
    ]);
  });

  it('each fact that would have settled a rule, when it is missing', async () => {
    const metrics = newMetrics();
    const call = callFor(testPatient('nothing-known').bundle, 'order-sign');
    await post(testApp({ metrics }), ORDER_PATH, call);
    const missing = await samples(metrics, 'cannot_tell_total');
    expect([...missing.keys()]).toContain('{hook="order-sign",fact="cup-inclination"}');
  });

  it('a refusal, by our code of it', async () => {
    const metrics = newMetrics();
    const app = testApp({ metrics });
    problem(await post(app, ORDER_PATH, '{'), 400);
    problem(await post(app, '/cds-services/nobody', orderCall()), 404);
    expect(await samples(metrics, 'problems_total')).toEqual(
      new Map([
        ['{code="not-json"}', 1],
        ['{code="unknown-service"}', 1],
      ]),
    );
  });

  it('nothing twice when it is asked twice', async () => {
    const metrics = newMetrics();
    await post(testApp({ metrics }), ORDER_PATH, orderCall());
    const once = await samples(metrics, 'outcomes_total');
    expect(await samples(metrics, 'outcomes_total')).toEqual(once);
    expect(once.size).toBeGreaterThan(20);
  });
});

/** Which rule a card came from is looked up after the answer has left. */
async function firstOverride(metrics: Metrics): Promise<string> {
  return await vi.waitFor(async () => {
    const [labels] = [...(await samples(metrics, 'overridden_total')).keys()];
    if (labels === undefined) throw new Error('not counted yet');
    return labels;
  });
}

describe('an override', () => {
  const system = 'https://kotyle.example/fhir/CodeSystem/override-reason';

  async function overriddenFor(reason: { readonly system?: string; readonly code: string }): Promise<string> {
    const metrics = newMetrics();
    const app = testApp({ metrics });
    await post(app, `${ORDER_PATH}/feedback`, { feedback: [{ ...FEEDBACK, overrideReason: { reason } }] });
    return await firstOverride(metrics);
  }

  it('is counted by the reason that was offered, and any other reason as another', async () => {
    const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];
    const [card] = cardsOf(await post(testApp(), ORDER_PATH, orderCall({ measures })));
    const [offered] = (card as unknown as { readonly overrideReasons: readonly { code: string }[] })
      .overrideReasons;
    expect(await overriddenFor({ system, code: offered?.code ?? '' })).toContain(`reason="${offered?.code}"`);
    expect(await overriddenFor({ system, code: 'a-word-of-theirs' })).toContain('reason="other"');
    expect(await overriddenFor({ system: 'https://codes.example', code: offered?.code ?? '' })).toContain(
      'reason="other"',
    );
  });

  it('of a card is counted by the rule the card came from', async () => {
    const metrics = newMetrics();
    const app = testApp({ metrics });
    const measures = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];
    const [card] = cardsOf(await post(app, ORDER_PATH, orderCall({ measures })));
    await post(app, `${ORDER_PATH}/feedback`, { feedback: [{ ...FEEDBACK, card: card?.uuid }] });
    expect(await firstOverride(metrics)).toBe('{rule="cup-inclination-outside-published",reason="none"}');
  });
});

describe('a client that sends texts of its own', () => {
  it('finds none of them in a label, and makes no more labels by sending more', async () => {
    const metrics = newMetrics();
    const app = testApp({ metrics });
    const send = async (index: number): Promise<void> => {
      const text = `${HOSTILE}-${index}`;
      const reason = { system: `urn:x:${index}`, code: `C${index}` };
      await post(app, `/cds-services/${encodeURIComponent(text)}`, orderCall());
      await post(app, ORDER_PATH, { ...orderCall(), hook: text, [text]: text });
      await post(app, ORDER_PATH, { ...orderCall(), [`member-${index}`]: text });
      await post(app, `${ORDER_PATH}/feedback`, {
        feedback: [{ ...FEEDBACK, overrideReason: { reason, userComment: text } }],
        [text]: 1,
      });
      await post(app, ORDER_PATH, orderCall(), {
        'Content-Type': 'application/json',
        'X-Request-Id': encodeURIComponent(text),
        Authorization: `Bearer ${encodeURIComponent(text)}`,
      });
    };
    await send(0);
    const before = (await metrics.text()).split('\n').length;
    for (let index = 1; index < 10; index += 1) await send(index);
    const after = await metrics.text();
    expect(after).not.toContain('HOSTILE');
    expect(after).not.toContain('urn:x:');
    expect(after).not.toMatch(/member-\d/);
    expect(after.split('\n').length).toBe(before);
  });
});

describe('the counts', () => {
  it('stand under /metrics in development, in the form a Prometheus server reads', async () => {
    const reply = await request(testApp()).get('/metrics');
    expect(reply.status).toBe(200);
    expect(reply.headers['content-type']).toMatch(/^text\/plain; version=0\.0\.4/);
    expect(reply.text).toContain('# TYPE kotyle_calls_total counter');
  });

  it('stand on no path of the service in production', async () => {
    problem(
      await request(testApp({ mode: 'production', publicUrl: 'https://hip.example' })).get('/metrics'),
      404,
    );
  });
});
