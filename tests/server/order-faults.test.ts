import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { ask, STEEP, summaries, UNREADABLE, withInclination, without } from './cases.js';
import { ORDER, orderCall, rulesOf } from './test-service.js';

describe('an order at hand that cannot be read is named', () => {
  // Integration decisions section 1 (codes, openRequest) and section 3 (subject missing → usable only from a query).
  const unreadable: Readonly<Record<string, JsonObject>> = {
    'its code without a code system': { ...ORDER, code: { coding: [{ code: '52734007' }] } },
    'at the hip, without a code': without(ORDER, 'code'),
    'with a modifier extension': { ...ORDER, modifierExtension: [{ url: 'https://record.example/not' }] },
    'without a patient': without(ORDER, 'subject'),
  };
  for (const [what, order] of Object.entries(unreadable)) {
    it(`${what}, as the only order`, async () => {
      expect(summaries(await ask(orderCall({ orders: [order], measures: [] })))).toEqual([UNREADABLE]);
    });
    it(`${what}, beside one that can be read`, async () => {
      const cards = await ask(orderCall({ orders: [{ ...order, id: 'order-2' }, ORDER] }));
      expect(summaries(cards)).toEqual([UNREADABLE]);
    });
  }

  it('but an order of which only the text says hip is none', async () => {
    const order = { ...without(ORDER, 'bodySite'), code: { text: 'Total hip replacement, left' } };
    // Integration decisions section 1: never by text.
    expect(await ask(orderCall({ orders: [order], measures: [] }))).toEqual([]);
  });

  it('and one that states no side, although a side was planned, is pointed out', async () => {
    const cards = await ask(orderCall({ orders: [without(ORDER, 'bodySite')] }));
    expect(summaries(cards)).toEqual([UNREADABLE]);
    expect(cards[0]?.detail).toContain('states no side');
  });
});

describe('an order that asks for no operation', () => {
  // Integration decisions section 1, openRequest. A steep cup would speak if the order counted.
  const closed: Readonly<Record<string, JsonObject>> = {
    'not to be performed': { ...ORDER, doNotPerform: true },
    'that is only an option': { ...ORDER, intent: 'option' },
    revoked: { ...ORDER, status: 'revoked' },
    completed: { ...ORDER, status: 'completed' },
    'entered in error': { ...ORDER, status: 'entered-in-error' },
  };
  for (const [what, order] of Object.entries(closed)) {
    it(`opens no card: ${what}`, async () => {
      expect(await ask(orderCall({ orders: [order], measures: withInclination(STEEP) }))).toEqual([]);
    });
  }

  it('is not one that is signed again under another status', async () => {
    for (const status of ['draft', 'active', 'on-hold', 'unknown']) {
      const cards = await ask(
        orderCall({ orders: [{ ...ORDER, status }], measures: withInclination(STEEP) }),
      );
      expect(rulesOf(cards), status).toEqual(['cup-inclination-outside-published']);
    }
  });
});
