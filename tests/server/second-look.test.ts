import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { ask, STEEP, withInclination } from './cases.js';
import {
  bookingCall,
  cardsOf,
  named,
  ORDER,
  ORDER_PATH,
  orderCall,
  post,
  problem,
  RIGHT,
  rulesOf,
  searchset,
  testApp,
} from './test-service.js';

const app = testApp();

describe('a list of selections', () => {
  it('of hundreds of thousands is measured before its members are read, and told in one short answer', async () => {
    const call = orderCall();
    const body = {
      ...call,
      hook: 'order-select',
      context: { ...call.context, selections: Array.from({ length: 200_000 }, () => 1) },
    };
    const reply = await post(app, ORDER_PATH, body);
    // Truth: the hook library: selections are texts; nobody drafts a thousand orders at once.
    problem(reply, 400);
    expect(reply.text.length).toBeLessThan(2000);
  });

  it('with many faults is answered with the first of them', async () => {
    const call = orderCall();
    const context = { ...call.context, selections: Array.from({ length: 500 }, () => 1) };
    const issues = problem(await post(app, ORDER_PATH, { ...call, hook: 'order-select', context }), 400);
    expect(issues.length).toBeLessThanOrEqual(20);
  });
});

describe('one order that comes twice under one name', () => {
  const other = { ...ORDER, bodySite: [RIGHT] };

  it('with two sides contradicts itself, in whatever order the copies come', async () => {
    for (const orders of [
      [ORDER, other],
      [other, ORDER],
    ]) {
      // Truth: integration decisions §1: statements of one resource that contradict are a critical conflict.
      const cards = await ask(orderCall({ orders, measures: [] }));
      expect(rulesOf(cards)).toContain('hip-side-conflict');
    }
  });

  it('with one side is one order', async () => {
    expect(await ask(orderCall({ orders: [ORDER, { ...ORDER }] }))).toEqual([]);
  });
});

describe('an answer given at booking', () => {
  it('keeps booking quiet, and leaves the card of the surgeon alone', async () => {
    const parkinson: JsonObject = {
      resourceType: 'Condition',
      id: 'parkinson',
      subject: { reference: 'Patient/patient-1' },
      code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] },
    };
    const conditions = { conditions: searchset(parkinson) };
    const visit = bookingCall({ serviceType: [ORDER['code']] }, conditions);
    const [card] = cardsOf(await post(app, '/cds-services/hip-stability-booking', visit));
    const feedback = {
      feedback: [{ card: card?.uuid, outcome: 'overridden', outcomeTimestamp: '2026-11-24T10:01:00Z' }],
    };
    const taken = await post(app, '/cds-services/hip-stability-booking/feedback', feedback);
    expect(taken.status).toBe(200);
    const again = { ...visit, hookInstance: '11111111-1111-4111-8111-111111111111' };
    expect(cardsOf(await post(app, '/cds-services/hip-stability-booking', again))).toEqual([]);
    // Truth: integration decisions §3: whoever books is unverified and saw the finding and the work-up only.
    const signed = await ask(orderCall({ prefetch: conditions }));
    expect(rulesOf(signed)).toContain('neurological-disease');
  });
});

describe('an operation going on now', () => {
  const running: JsonObject = {
    resourceType: 'Procedure',
    id: 'running',
    status: 'in-progress',
    subject: { reference: 'Patient/patient-1' },
    code: ORDER['code'],
  };
  const prefetch = { procedures: searchset(running) };

  it('keeps advice quiet, and neither a contradicting side nor another person', async () => {
    const contradicting = {
      ...ORDER,
      code: { coding: [{ system: 'http://snomed.info/sct', code: '52734007' }] },
    };
    const twice = [contradicting, { ...contradicting, bodySite: [RIGHT] }];
    const stranger = { ...ORDER, id: 'theirs', subject: { reference: 'Patient/somebody-else' } };
    // Truth: integration decisions §3 (silent while a procedure on that hip is in progress) and §4 (locked rules).
    expect(await ask(orderCall({ measures: withInclination(STEEP), prefetch }))).toEqual([]);
    expect(rulesOf(await ask(orderCall({ orders: twice, measures: [], prefetch })))).toContain(
      'hip-side-conflict',
    );
    const cards = await ask(orderCall({ orders: [ORDER, stranger], prefetch }));
    expect(named(cards).map(({ rule, indicator }) => `${rule} ${indicator}`)).toContain(
      'other-patient-record critical',
    );
  });
});
