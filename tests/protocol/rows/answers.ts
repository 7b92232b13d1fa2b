import request from 'supertest';
import type { Express } from 'express';
import {
  planned,
  post,
  TEXTBOOK,
  ORDER_PATH,
  orderCall,
  ORDER,
  RIGHT,
  searchset,
} from '../../server/test-service.js';
import type { HookCall, Reply, WireCard } from '../../server/test-service.js';
import { CHART_PATH, chartCall, leftHipVisit, selectCall, SUBJECT } from '../../server/hook-calls.js';
import { BOOKING_PATH, cardsOf } from '../../server/test-service.js';
import type { JsonObject } from '../../../src/fhir/json.js';

/** One call of each hook about which there is something to say, and answers of every kind. */

export const STEEP_PLAN = [...TEXTBOOK.slice(1), planned('cup-inclination', 60, 'deg')];

/** A disease that rules look for, and a plan with a steep cup. */
const PARKINSON: JsonObject = {
  resourceType: 'Condition',
  id: 'parkinson',
  subject: SUBJECT,
  code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] },
};
const SPEAKS = { conditions: searchset(PARKINSON) };

export const SPEAKING: Readonly<Record<string, readonly [path: string, call: HookCall]>> = {
  'appointment-book': [BOOKING_PATH, leftHipVisit({}, SPEAKS)],
  'order-select': [
    ORDER_PATH,
    selectCall([ORDER], ['ServiceRequest/order-1'], { ...SPEAKS, measures: searchset(...STEEP_PLAN) }),
  ],
  'order-sign': [ORDER_PATH, orderCall({ measures: STEEP_PLAN, prefetch: SPEAKS })],
  'patient-view': [
    CHART_PATH,
    chartCall({ ...SPEAKS, serviceRequests: searchset({ ...ORDER, status: 'active' }) }),
  ],
};

/** The hook's call and where it goes. */
export function speakingCall(hook: string): readonly [path: string, call: HookCall] {
  const found = SPEAKING[hook];
  if (!found) throw new Error(`no call of ${hook}`);
  return found;
}

export async function speakingCards(app: Express): Promise<readonly WireCard[]> {
  const cards: WireCard[] = [];
  for (const [path, call] of Object.values(SPEAKING)) cards.push(...cardsOf(await post(app, path, call)));
  return cards;
}

/** Both hips, another patient's order and everything that speaks at once. */
export const CROWDED = orderCall({
  orders: [
    ORDER,
    { ...ORDER, id: 'order-2', bodySite: [RIGHT] },
    { ...ORDER, id: 'theirs', subject: { reference: 'Patient/other' } },
  ],
  measures: STEEP_PLAN,
  prefetch: SPEAKS,
});

/** Answers of every kind the service has, each by what was asked. */
export async function everyAnswer(app: Express): Promise<Readonly<Record<string, Reply>>> {
  const { prefetch, ...bare } = leftHipVisit();
  const undecided = { ...bare, prefetch: { patient: prefetch['patient'] } };
  const answers: Record<string, Reply> = {
    discovery: await request(app).get('/cds-services'),
    'discovery by POST': await post(app, '/cds-services', {}),
    'no card': await post(app, ORDER_PATH, orderCall()),
    'many cards': await post(app, ORDER_PATH, CROWDED),
    'not JSON': await post(app, ORDER_PATH, '{'),
    'no context': await post(app, ORDER_PATH, { hook: 'order-sign' }),
    'not a service': await post(app, '/cds-services/other', {}),
    'not a path': await request(app).get('/nowhere'),
    'a form': await post(app, ORDER_PATH, 'a=b', { 'Content-Type': 'application/x-www-form-urlencoded' }),
    feedback: await post(app, `${ORDER_PATH}/feedback`, { feedback: [] }),
    'feedback without a list': await post(app, `${ORDER_PATH}/feedback`, {}),
    undecided: await post(app, CHART_PATH, { ...chartCall(), prefetch: undecided.prefetch }),
    health: await request(app).get('/health'),
  };
  for (const [hook, [path, call]] of Object.entries(SPEAKING)) answers[hook] = await post(app, path, call);
  return answers;
}
