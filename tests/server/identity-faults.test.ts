import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import {
  ask,
  SIDE,
  SIDES,
  SNOMED,
  STEEP,
  STRANGER,
  summaries,
  told,
  UCUM,
  withInclination,
  without,
} from './cases.js';
import { LEFT, ORDER, orderCall, planned, RIGHT, rulesOf, searchset, TEXTBOOK } from './test-service.js';

// Integration decisions section 1, side: statements of one resource that contradict → conflict → critical.
describe('statements about the side that contradict', () => {
  const bothSides = { coding: [...LEFT.coding, { system: SNOMED, code: SIDES.right }] };
  told({
    'a measure at the left hip region qualified as right': {
      call: orderCall({ measures: withInclination({ ...STEEP, bodySite: bothSides }) }),
      cards: [SIDE],
      never: /60/,
    },
    'an order whose code says left and whose body site says right': {
      call: orderCall({
        orders: [{ ...ORDER, code: { coding: [{ system: SNOMED, code: '770606008' }] }, bodySite: [RIGHT] }],
        measures: [],
      }),
      cards: [SIDE],
      says: /left and right/,
    },
    'an order whose detail says right and whose body site says left': {
      call: orderCall({
        orders: [{ ...ORDER, orderDetail: [{ coding: [{ system: SNOMED, code: SIDES.right }] }] }],
        measures: [],
      }),
      cards: [SIDE],
    },
    'an order for the left, a plan tied to it for the right': {
      call: orderCall({ measures: [planned('cup-inclination', 40, 'deg', { bodySite: RIGHT })] }),
      cards: [SIDE],
      says: /the order says left, the plan tied to it says right/,
    },
  });

  it('are not a hip with a qualifier that agrees, nor left and right as two body sites', async () => {
    const left = {
      coding: [
        { system: SNOMED, code: '29836001' },
        { system: SNOMED, code: SIDES.left },
      ],
    };
    expect(await ask(orderCall({ orders: [{ ...ORDER, bodySite: [left] }] }))).toEqual([]);
    // Same paragraph: separate entries with an unsided code are two hips, good input.
    expect(await ask(orderCall({ orders: [{ ...ORDER, bodySite: [LEFT, RIGHT] }] }))).toEqual([]);
  });
});

// Integration decisions section 3, same patient; P16.
describe('what names another patient', () => {
  const stranger = { subject: { reference: 'Patient/patient-2' } };
  told({
    'a measure': {
      call: orderCall({ measures: [...TEXTBOOK, { ...STEEP, id: 'strange', ...stranger }] }),
      cards: [STRANGER],
      never: /60|patient-2/,
    },
    'the plan as a whole': {
      call: orderCall({ measures: TEXTBOOK.map((measure) => ({ ...measure, ...stranger })) }),
      cards: [STRANGER],
    },
    'an order in the record': {
      call: orderCall({
        prefetch: { serviceRequests: searchset({ ...ORDER, id: 'order-9', status: 'active', ...stranger }) },
      }),
      cards: [STRANGER],
    },
    'the only order at hand': {
      call: orderCall({ orders: [{ ...ORDER, ...stranger }], measures: [] }),
      cards: [STRANGER],
    },
    'one of two orders at hand': {
      call: orderCall({ orders: [ORDER, { ...ORDER, id: 'order-2', ...stranger }] }),
      cards: [STRANGER],
    },
    'a stray laboratory value, which is dropped without a word': {
      call: orderCall({
        prefetch: {
          observations: searchset({
            resourceType: 'Observation',
            id: 'bmi',
            status: 'final',
            code: { coding: [{ system: 'http://loinc.org', code: '39156-5' }] },
            valueQuantity: { value: 41, system: UCUM, code: 'kg/m2' },
            ...stranger,
          }),
        },
      }),
      cards: [],
    },
  });

  it('is dropped when it is a diagnosis: the disease of another is not this patient’s', async () => {
    const parkinson = {
      resourceType: 'Condition',
      id: 'condition-1',
      code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] },
    };
    const conditions = (subject: JsonObject): JsonObject => ({
      conditions: searchset({ ...parkinson, subject }),
    });
    // P16.
    const own = await ask(orderCall({ prefetch: conditions({ reference: 'Patient/patient-1' }) }));
    expect(rulesOf(own)).toEqual(['neurological-disease']);
    const theirs = await ask(orderCall({ prefetch: conditions({ reference: 'Patient/patient-2' }) }));
    expect(theirs).toEqual([]);
  });

  it('is not a measure without a subject: it came from a query by patient, and the card says so', async () => {
    const cards = await ask(orderCall({ measures: withInclination(without(STEEP, 'subject')) }));
    expect(summaries(cards)).toEqual(['warning cup-inclination-outside-published']);
    expect(cards[0]?.detail).toContain('patient taken from the query');
  });

  it('is not a measure whose subject is no reference: that is marked in the same way', async () => {
    for (const subject of [null, { display: 'somebody' }, { identifier: { value: '4711' } }]) {
      const cards = await ask(orderCall({ measures: withInclination({ ...STEEP, subject }) }));
      expect(summaries(cards)).toEqual(['warning cup-inclination-outside-published']);
      expect(cards[0]?.detail, JSON.stringify(subject)).toContain('patient taken from the query');
    }
  });
});
