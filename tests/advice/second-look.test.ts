import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Answer } from './patients.js';
import { answerTo, cardNames, inputFor, testPatient, answerFor } from './patients.js';
import { measureObservation, planBundle } from './plan.js';

// Truth throughout: the project's clinical decisions (§1-6, §8) and integration decisions (§1), paragraph beside each.

const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';

function condition(code: string, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Condition',
    id: `condition-${code}`,
    code: { coding: [{ system: ICD, code }] },
    subject: { reference: 'Patient/patient-1' },
    ...more,
  };
}

function plan(inclination: number, anteversion: number, head = 36): readonly JsonObject[] {
  return [
    measureObservation('cup-inclination', inclination, 'deg'),
    measureObservation('cup-anteversion', anteversion, 'deg'),
    measureObservation('head-diameter', head, 'mm'),
    measureObservation('neck-diameter', 12, 'mm'),
  ];
}

async function signed(bundle: JsonObject): Promise<Answer> {
  const input = inputFor(bundle, 'order-sign');
  if (!input) throw new Error('nothing to sign');
  return answerTo(input);
}

function rules(answer: Answer): readonly string[] {
  return cardNames(answer).map(({ rule }) => rule);
}

function order(id: string, side: string, more: JsonObject): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id,
    status: 'active',
    intent: 'order',
    code: { coding: [{ system: 'http://snomed.info/sct', code: '52734007' }] },
    bodySite: [
      { coding: [{ system: 'http://snomed.info/sct', code: side === 'left' ? '287679003' : '287579007' }] },
    ],
    subject: { reference: 'Patient/patient-1' },
    ...more,
  };
}

describe('margins on a card', () => {
  it('say in words on which side of contact each lies, so that a better one never reads as a worse one', async () => {
    const { cards } = await answerFor(testPatient('anteverted-cup').bundle, 'order-sign');
    expect(cards[0]?.detail).toContain(
      'range asked for not reached by 4° (external rotation 40°); at 15° anteversion least margin 12°',
    );
  });
});

describe('a bound', () => {
  it.each([
    ['>', 60, 'cup-inclination-outside-published', 'over 60°'],
    ['<', 28, 'cup-inclination-outside-published', 'under 28°'],
  ] as const)(
    '%s %d decides and is told as a bound, never as the number itself',
    async (comparator, value, rule, told) => {
      const bound = {
        ...measureObservation('cup-inclination', value, 'deg'),
        valueQuantity: { value, comparator, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
      };
      const answer = await signed(planBundle([bound]));
      expect(rules(answer)).toEqual([rule]);
      expect(answer.cards[0]?.summary).toContain(told);
      expect(answer.faults).toEqual([]);
    },
  );
});

describe('plans and orders (§2)', () => {
  const rightPlan = (more: JsonObject): JsonObject => ({
    ...measureObservation('cup-inclination', 41, 'deg', 'right'),
    ...more,
  });

  it('are no conflict when the plan names another order that was not sent, though both share a visit', async () => {
    const encounter = { reference: 'Encounter/e1' };
    const bundle = planBundle([rightPlan({ basedOn: [{ reference: 'ServiceRequest/order-2' }], encounter })]);
    const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
    const withVisit = {
      ...bundle,
      entry: entries.map(({ resource }) => ({ resource: { ...resource, encounter } })),
    };
    expect(rules(await signed(withVisit))).toEqual([]);
  });

  it('are no conflict when the other side of the same visit has its own order, also a completed one', async () => {
    const encounter = { reference: 'Encounter/e1' };
    const bundle = planBundle([
      rightPlan({ basedOn: [], encounter }),
      order('order-2', 'right', { status: 'completed', encounter }),
    ]);
    const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
    const withVisit = {
      ...bundle,
      entry: entries.map(({ resource }) => ({ resource: { ...resource, encounter } })),
    };
    expect(rules(await signed(withVisit))).not.toContain('hip-side-conflict');
  });

  it('still conflict when an unnamed plan of the same visit is for the side nobody ordered', async () => {
    const encounter = { reference: 'Encounter/e1' };
    const bundle = planBundle([rightPlan({ basedOn: [], encounter })]);
    const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
    const withVisit = {
      ...bundle,
      entry: entries.map(({ resource }) => ({ resource: { ...resource, encounter } })),
    };
    expect(rules(await signed(withVisit))).toEqual(['hip-side-conflict']);
  });

  it('of a revoked order are not used, and that is said when there is no other plan', async () => {
    const old = plan(60, 15).map((one) => ({ ...one, basedOn: [{ reference: 'ServiceRequest/order-2' }] }));
    const answer = await signed(planBundle([...old, order('order-2', 'left', { status: 'revoked' })]));
    expect(rules(answer)).toEqual(['record-unreadable']);
    expect(answer.cards[0]?.summary).toContain('an order that is no longer open');
  });
});

describe('a hip that has dislocated in an unknown direction (§6)', () => {
  it('gets no orientation option, and infection markers come before mechanics', async () => {
    const bundle = planBundle([...plan(60, 15), condition('T84.021A', { clinicalStatus: undefined })]);
    const detail = (await signed(bundle)).cards.find(
      ({ source }) => source.topic.code === 'cup-inclination-outside-published',
    )?.detail;
    expect(detail).toContain(
      'infection markers before mechanics · direction and count of dislocations first',
    );
    expect(detail).toMatch(/\*\*Not known\*\* .*direction of dislocation/);
    expect(detail).not.toMatch(/45° →|40° →/);
  });
});

describe('triggers', () => {
  it('are a conversion of earlier surgery, and Parkinson disease whatever its entry says of activity', async () => {
    const bundle = planBundle(plan(40, 18, 28));
    const entries = bundle['entry'] as readonly { readonly resource: JsonObject }[];
    const conversion = { coding: [{ system: 'http://snomed.info/sct', code: '449039004' }] };
    const converted = {
      ...bundle,
      entry: entries.map(({ resource }) => ({
        resource:
          resource['resourceType'] === 'ServiceRequest' ? { ...resource, code: conversion } : resource,
      })),
    };
    expect(rules(await signed(converted))).toEqual([
      'failed-fixation-conversion',
      'head-neck-ratio-low-with-trigger',
    ]);
    const inactive = {
      coding: [{ system: 'http://terminology.hl7.org/CodeSystem/condition-clinical', code: 'inactive' }],
    };
    const quiet = planBundle([...plan(40, 18, 36), condition('G20.A1', { clinicalStatus: inactive })]);
    expect(rules(await signed(quiet))).toEqual(['neurological-disease']);
  });

  it('that are only suspected are called so where the card is read first', async () => {
    const provisional = {
      coding: [
        { system: 'http://terminology.hl7.org/CodeSystem/condition-ver-status', code: 'differential' },
      ],
    };
    const answer = await signed(
      planBundle([...plan(40, 18), condition('G20.A1', { verificationStatus: provisional })]),
    );
    expect(answer.cards[0]?.summary).toContain('Parkinson disease (unconfirmed)');
  });

  it('that have abated are over where only the present matters', async () => {
    const answer = await signed(
      planBundle([...plan(40, 18), condition('F03.90', { abatementDateTime: '2020-01-01' })]),
    );
    expect(rules(answer)).toEqual([]);
  });
});

describe('a fresh femoral neck fracture (§6)', () => {
  it('is not asked for standing films, and keeps hemiarthroplasty among the options', async () => {
    const booked = await answerFor(testPatient('fracture-with-dementia').bundle, 'appointment-book');
    expect(booked.cards[0]?.detail).not.toContain('standing and seated');
    const answer = await signed(planBundle([...plan(40, 18, 28), condition('S72.002A')]));
    const [fracture] = answer.cards;
    expect(fracture?.source.topic.code).toBe('femoral-neck-fracture');
    expect(fracture?.detail).toMatch(/\*\*Options\*\* no change · hemiarthroplasty ·/);
  });
});

describe('a steep cup without a head', () => {
  it('still shows other inclinations beside "no change"', async () => {
    const answer = await signed(planBundle(plan(60, 15).slice(0, 2)));
    expect(answer.cards[0]?.detail).toContain('no change · 45° · 40°');
  });
});
