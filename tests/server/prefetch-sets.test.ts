import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { ask, SIDE, SNOMED, STEEP, summaries, withInclination, without, withoutPrefetch } from './cases.js';
import {
  bookingCall,
  cardsOf,
  ORDER,
  ORDER_PATH,
  orderCall,
  post,
  RIGHT,
  rulesOf,
  searchset,
  testApp,
  TEXTBOOK,
} from './test-service.js';
import type { WireCard } from './test-service.js';

const app = testApp();

describe('a prefetch set', () => {
  // Without its head, so that there is something a set not wholly read might have held.
  const partial = TEXTBOOK.filter(({ id }) => id !== 'planned-head-diameter');
  const measures = searchset(...partial);
  const outcome = (severity: string): JsonObject => ({
    resourceType: 'OperationOutcome',
    issue: [{ severity, code: 'processing' }],
  });
  const asOutcome = (severity: string): JsonObject => ({
    search: { mode: 'outcome' },
    resource: outcome(severity),
  });
  const next = [{ relation: 'next', url: 'https://record.example/fhir?page=2' }];
  const entries = measures['entry'] as readonly JsonObject[];
  const notRead: Readonly<Record<string, unknown>> = {
    // P11; integration decisions section 2.
    'that is an OperationOutcome': outcome('error'),
    'that is an OperationOutcome of a warning alone': outcome('warning'),
    'with an error among its entries': { ...measures, entry: [...entries, asOutcome('error')] },
    'with nothing but an outcome in it': { ...measures, entry: [asOutcome('warning')] },
    // P15.
    'with a next page': { ...measures, link: next },
    // P14.
    'without a resourceType': { type: 'searchset', entry: entries },
    'wrapped as response and resource': { response: { status: '200' }, resource: measures },
    'that is a text': 'none',
    'that is a list': [...partial],
    // P8, P10: what could not be read was not wholly read, so that nothing follows from its silence.
    'with an entry that is null': { ...measures, entry: [...entries, null] },
    'with an entry without a resource': { ...measures, entry: [...entries, { fullUrl: 'urn:uuid:0' }] },
    'with an entry of no resource type': { ...measures, entry: [...entries, { resource: { id: 'x' } }] },
    'whose entries are no list': { ...measures, entry: entries[0] },
    'that is a resource of another kind': { resourceType: 'Parameters' },
  };

  for (const [key, title] of [
    ['measures', 'hip measures and plan'],
    ['conditions', 'problem list'],
  ] as const) {
    for (const [what, value] of Object.entries(notRead)) {
      it(`of ${key} ${what} is named on the one data-gap card`, async () => {
        const cards = await ask(orderCall({ measures: partial, prefetch: { [key]: value } }));
        expect(gapsOf(cards)).toEqual([key]);
        expect(cards.find(isGap)?.detail).toContain(title);
      });
    }

    it(`of ${key} that is absent is named on the one data-gap card`, async () => {
      const call = orderCall();
      const prefetch = without(call.prefetch, key);
      // P10: absent is not none.
      expect(gapsOf(await ask({ ...call, prefetch }))).toEqual([key]);
    });

    it(`of ${key} that is null, or an empty Bundle with or without a list, is none and opens no card`, async () => {
      for (const value of [
        null,
        { resourceType: 'Bundle', type: 'searchset' },
        { resourceType: 'Bundle', type: 'searchset', total: 0, entry: [] },
      ]) {
        // P10.
        expect(await ask(orderCall({ prefetch: { [key]: value } }))).toEqual([]);
      }
    });
  }

  it('of measures with a next page is named even when the first page held a whole plan', async () => {
    const paged = { ...searchset(...TEXTBOOK), link: next };
    // P15; integration decisions section 2: the next page may hold an impossible, contradicting or newer value.
    expect(gapsOf(await ask(orderCall({ prefetch: { measures: paged } })))).toEqual(['measures']);
  });

  it('of measures that is absent is named at booking too, where contradictions need no trigger', async () => {
    const visit = bookingCall({ serviceType: [ORDER['code']] });
    // Clinical decisions section 1; integration decisions section 2, last row of the table.
    expect(gapsOf(await ask({ ...visit, prefetch: without(visit.prefetch, 'measures') }))).toEqual([
      'measures',
    ]);
  });

  it('with a warning beside its matches is usable', async () => {
    const value = { ...measures, entry: [...entries, asOutcome('warning')] };
    // Integration decisions section 2: search.mode=outcome leaves matches usable.
    expect(await ask(orderCall({ prefetch: { measures: value } }))).toEqual([]);
  });

  it('that no rule needed is not missed', async () => {
    const call = orderCall();
    // Integration decisions section 3: only if such a set could have changed an outcome.
    expect(await ask({ ...call, prefetch: without(call.prefetch, 'patient', 'observations') })).toEqual([]);
  });

  it('of open orders is missed when only it could say whether the other hip has an order of its own', async () => {
    const right = TEXTBOOK.map((measure) => without({ ...measure, bodySite: RIGHT }, 'basedOn'));
    const ordered = searchset({ ...ORDER, id: 'order-right', status: 'active', bodySite: [RIGHT] });
    // Clinical decisions section 2: nothing if that side has its own open order.
    expect(await ask(orderCall({ measures: right, prefetch: { serviceRequests: ordered } }))).toEqual([]);
    const call = orderCall({ measures: right });
    // Integration decisions section 3: the set could have changed the outcome, so it is named.
    expect(gapsOf(await ask({ ...call, prefetch: without(call.prefetch, 'serviceRequests') }))).toEqual([
      'serviceRequests',
    ]);
  });

  it('that failed still lets what it holds be heard', async () => {
    const failed = searchset(...withInclination(STEEP));
    const value = { ...failed, entry: [...(failed['entry'] as JsonObject[]), asOutcome('error')] };
    const cards = await ask(orderCall({ prefetch: { measures: value } }));
    // E11, integration decisions section 2: 200 with what could be evaluated.
    expect(rulesOf(cards)).toContain('cup-inclination-outside-published');
  });
});

function isGap(card: WireCard): boolean {
  return card.source.topic.code === 'data-gap';
}

/** The sets the one data-gap card names; fails when there is more than one such card. */
function gapsOf(cards: readonly WireCard[]): readonly string[] {
  const gaps = cards.filter(isGap);
  expect(gaps.length).toBe(1);
  expect(gaps[0]?.indicator).toBe('info');
  const sets = gaps[0]?.extension['example.kotyle.advisory']['sets'] as readonly { readonly id: string }[];
  return sets.map(({ id }) => id);
}

describe('order-sign with nothing but its context', () => {
  it('is answered, with one data-gap card and no refusal', async () => {
    const bare = withoutPrefetch(orderCall());
    for (const body of [bare, { ...bare, prefetch: {} }, { ...bare, prefetch: null }]) {
      const cards = cardsOf(await post(app, ORDER_PATH, body));
      // Integration decisions section 2, table: context only, never 412.
      expect(rulesOf(cards)).toEqual(['data-gap']);
      expect(gapsOf(cards)).toEqual(expect.arrayContaining(['conditions', 'measures']));
    }
  });

  it('still compares the sides inside the order', async () => {
    const orders = [
      { ...ORDER, code: { coding: [{ system: SNOMED, code: '770606008' }] }, bodySite: [RIGHT] },
    ];
    const bare = withoutPrefetch(orderCall({ orders }));
    const cards = cardsOf(await post(app, ORDER_PATH, bare));
    // Same row: side and plan checks still run.
    expect(summaries(cards)[0]).toBe(SIDE);
  });
});
