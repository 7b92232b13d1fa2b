import { describe, expect, it } from 'vitest';
import { MOST_IN_SET } from '../../../src/fhir/bundle.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import { SUBJECT } from '../../server/hook-calls.js';
import {
  cardsOf,
  ORDER,
  ORDER_PATH,
  orderCall,
  pathsOf,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
} from '../../server/test-service.js';
import type { HookCall } from '../../server/test-service.js';

const app = testApp();

/** Diagnoses that mean nothing here, and one that does. */
function withDiagnoses(count: number): HookCall {
  const icd = (id: number, code: string): JsonObject => ({
    resourceType: 'Condition',
    id: `c${id}`,
    subject: SUBJECT,
    code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code }] },
  });
  const others = Array.from({ length: count - 1 }, (_none, index) => icd(index, 'J06.9'));
  return orderCall({ prefetch: { conditions: searchset(...others, icd(count, 'G20.A1')) } });
}

describe('a set', () => {
  it('of as many entries as are read is read whole, and of one more is not, which the answer says', async () => {
    expect(rulesOf(cardsOf(await post(app, ORDER_PATH, withDiagnoses(MOST_IN_SET))))).toContain(
      'neurological-disease',
    );
    const cards = cardsOf(await post(app, ORDER_PATH, withDiagnoses(MOST_IN_SET + 1)));
    expect(rulesOf(cards)).toEqual(['data-gap']);
    expect(cards[0]?.detail).toContain(`more than ${MOST_IN_SET} entries, none read`);
  });
});

describe('the orders at hand', () => {
  it('are at most a thousand: more than anybody signs is refused before it is read', async () => {
    const orders = (count: number): readonly JsonObject[] =>
      Array.from({ length: count }, (_none, index) => ({ ...ORDER, id: `order-${index}` }));
    expect((await post(app, ORDER_PATH, orderCall({ orders: orders(1000) }))).status).toBe(200);
    const issues = problem(await post(app, ORDER_PATH, orderCall({ orders: orders(1001) })), 400);
    expect(pathsOf(issues)).toEqual(['context.draftOrders.entry']);
  });
});

describe('a history of thousands of operations', () => {
  it('is told apart as one of two is: exchanges by hip and day, one operation a day', async () => {
    const done = (id: string, day: string, code: string): JsonObject => ({
      resourceType: 'Procedure',
      id,
      status: 'completed',
      subject: SUBJECT,
      performedDateTime: day,
      code: { coding: [{ system: 'http://www.cms.gov/Medicare/Coding/ICD10', code }] },
    });
    // ICD-10-PCS: removal from and replacement of the left hip joint on one day are an exchange.
    const exchange = [done('a', '2015-03-01', '0SPB0JZ'), done('b', '2015-03-01', '0SRB0JZ')];
    const many = Array.from({ length: 2000 }, (_none, index) => done(`r${index}`, '2015-03-01', '0SRB0JZ'));
    const rulesWith = async (procedures: readonly JsonObject[]): Promise<readonly string[]> =>
      rulesOf(
        cardsOf(
          await post(app, ORDER_PATH, orderCall({ prefetch: { procedures: searchset(...procedures) } })),
        ),
      );
    const plain = await rulesWith(exchange);
    expect(plain).toContain('earlier-dislocation-or-revision');
    expect(await rulesWith([...exchange, ...many])).toEqual(plain);
  });
});
