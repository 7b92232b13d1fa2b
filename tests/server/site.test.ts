import { describe, expect, it } from 'vitest';
import { prefetchTemplates } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Site } from '../../src/rulebook/site.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord, Store } from '../../src/store/store.js';
import { answerTo, inputFor, rulebook, service } from '../advice/patients.js';
import { planBundle } from '../advice/plan.js';
import { filesWith, line, mapOf, MEASURES, ORDERS, products, PROBLEMS, siteOf } from '../facts/sites.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import { AMPLE_MS } from './fallback/records.js';
import { accessTo, pathOfHook } from './record-calls.js';
import {
  cardsOf,
  ORDER,
  orderCall,
  PATIENT,
  planned,
  post,
  rulesOf,
  searchset,
  TEST_KEY,
  testApp,
} from './test-service.js';
import type { AppSettings, HookCall, WireCard } from './test-service.js';

const SNOMED = 'http://snomed.info/sct';
const OURS = 'https://kotyle.example/fhir/CodeSystem/hip-measure';
const concept = (system: string, code: string): JsonObject => ({ coding: [{ system, code }] });
const subject = { reference: 'Patient/patient-1' };
const PARKINSON: JsonObject = {
  resourceType: 'Condition',
  id: 'parkinson',
  subject,
  clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', 'active'),
  verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'confirmed'),
  code: concept('http://hl7.org/fhir/sid/icd-10-cm', 'G20.A1'),
};
const STEEP = [planned('cup-inclination', 64, 'deg'), planned('cup-anteversion', 20, 'deg')];
const LOCAL_ORDER = { ...ORDER, code: concept(ORDERS, 'THA') };

/** A ConceptMap of one line, as DEVELOPERS.md shows it. */
const ORDER_MAP = mapOf(ORDERS, SNOMED, line('THA', '52734007'));

/** An installation with these members beside its maps. */
function installation(members: JsonObject, ...maps: readonly unknown[]): Site {
  const [site, ...others] = filesWith(...maps);
  if (!site) throw new Error('expected a site file');
  return siteOf([{ ...site, content: { ...(site.content as JsonObject), ...members } }, ...others]);
}

interface Told {
  readonly cards: readonly WireCard[];
  readonly decision: DecisionRecord;
  readonly store: Store;
}

/** The answer to a call, and the decision kept of it in a store of its own. */
async function ask(call: HookCall | JsonObject, settings: AppSettings = {}): Promise<Told> {
  const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  const kept: DecisionRecord[] = [];
  const watching: Store = {
    ...store,
    saveDecision: async (record) => {
      await store.saveDecision(record);
      kept.push(record);
    },
  };
  // The answer waits for its record.
  const app = testApp({ ...settings, store: watching, audit: 'required' });
  const cards = cardsOf(await post(app, pathOfHook(String(call['hook' as keyof typeof call])), call));
  const [decision] = kept;
  if (!decision) throw new Error('expected a decision');
  return { cards, decision, store };
}

/** The cards without what the members named say of where they came from. */
function withoutMembers(cards: readonly WireCard[], ...members: readonly string[]): readonly unknown[] {
  return cards.map((card) => {
    const advisory = Object.entries(card.extension['example.kotyle.advisory']);
    const kept = Object.fromEntries(advisory.filter(([name]) => !members.includes(name)));
    return { ...card, extension: { 'example.kotyle.advisory': kept } };
  });
}

/** The same without the ids, which hang on the installation. */
function withoutIds(cards: readonly unknown[]): unknown {
  return JSON.parse(JSON.stringify(cards, (name, value: unknown) => (name === 'uuid' ? undefined : value)));
}

// Truth throughout, where nothing else is named: integration decisions section 4.
describe('an order in a site’s own code', () => {
  const steep = { orders: [LOCAL_ORDER], measures: STEEP, prefetch: { conditions: searchset(PARKINSON) } };

  it('gets no card without a map, and the decision names the code', async () => {
    for (const settings of [{}, { installation: installation({}) }]) {
      const { cards, decision, store } = await ask(orderCall(steep), settings);
      expect(cards).toEqual([]);
      expect(decision.recognised).toBe('no');
      const missing = {
        resourceType: 'ServiceRequest',
        element: 'code',
        system: ORDERS,
        code: 'THA',
        count: 1,
      };
      expect(decision.unmapped).toEqual([missing]);
      expect(await store.unmappedTotals()).toEqual([missing]);
    }
  });

  it('gets with a three-line map the cards of the same order in SNOMED CT, byte for byte', async () => {
    const site = installation({}, ORDER_MAP);
    const local = await ask(orderCall(steep), { installation: site });
    const coded = await ask(orderCall({ ...steep, orders: [ORDER] }), { installation: site });
    expect(rulesOf(local.cards)).toEqual(
      expect.arrayContaining(['cup-inclination-outside-published', 'neurological-disease']),
    );
    // Which code was translated is the only difference, ids and evaluation included.
    expect(JSON.stringify(withoutMembers(local.cards, 'mapped'))).toBe(
      JSON.stringify(withoutMembers(coded.cards, 'mapped')),
    );
    for (const card of local.cards)
      expect(card.extension['example.kotyle.advisory']['mapped']).toEqual([
        expect.objectContaining({ element: 'ServiceRequest.code', system: ORDERS, code: 'THA' }),
      ]);
    expect(local.decision.unmapped).toEqual([]);
    expect(await local.store.unmappedTotals()).toEqual([]);
    // Without any installation: the same again, apart from the ids and the installation's name.
    const bare = await ask(orderCall({ ...steep, orders: [ORDER] }));
    const provenance = ['mapped', 'site', 'evaluation'];
    expect(withoutIds(withoutMembers(local.cards, ...provenance))).toEqual(
      withoutIds(withoutMembers(bare.cards, ...provenance)),
    );
  });

  it('is named in the evaluation, too, when another order is recognised', async () => {
    const procedure = {
      resourceType: 'Procedure',
      id: 'old',
      status: 'completed',
      subject,
      code: concept(ORDERS, 'XRAY'),
    };
    const input = inputFor(planBundle([procedure]), 'order-sign');
    if (!input) throw new Error('expected a call');
    const evaluation = (await answerTo(input)).evaluation?.();
    expect(evaluation?.provenance.unmapped).toEqual([
      { resourceType: 'Procedure', element: 'code', system: ORDERS, code: 'XRAY', count: 1 },
    ]);
  });

  it('counts up over decisions, one for each resource', async () => {
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const app = testApp({ store, audit: 'required' });
    const problems = ['one', 'two'].map((id) => ({ ...PARKINSON, id, code: concept(PROBLEMS, 'PD') }));
    for (const hookInstance of [
      '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e11',
      '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e12',
    ]) {
      const call = orderCall({ prefetch: { conditions: searchset(...problems) } });
      cardsOf(await post(app, pathOfHook('order-sign'), { ...call, hookInstance }));
    }
    expect(await store.unmappedTotals()).toEqual([
      { resourceType: 'Condition', element: 'code', system: PROBLEMS, code: 'PD', count: 4 },
    ]);
    await store.close();
  });
});

const MEASURE_MAP = mapOf(
  MEASURES,
  OURS,
  line(
    'CUP-INC',
    'cup-inclination',
    products({ stage: 'planned', 'angle-definition': 'radiographic', unit: 'deg' }),
  ),
  line(
    'CUP-VER',
    'cup-anteversion',
    products({ stage: 'planned', 'angle-definition': 'radiographic', unit: 'deg' }),
  ),
);

function localMeasure(code: string, value: number): JsonObject {
  return {
    resourceType: 'Observation',
    id: code.toLowerCase(),
    status: 'final',
    basedOn: [{ reference: 'ServiceRequest/order-1' }],
    code: concept(MEASURES, code),
    subject,
    effectiveDateTime: '2026-11-02',
    bodySite: concept(SNOMED, '287679003'),
    valueQuantity: { value },
  };
}

describe('measures in a site’s own codes', () => {
  const site = installation({}, MEASURE_MAP);
  const template = `Observation?patient={{context.patientId}}&code=${MEASURES}|CUP-INC,${MEASURES}|CUP-VER`;
  const LOCAL = [localMeasure('CUP-INC', 64), localMeasure('CUP-VER', 20)];

  it('are published as a prefetch key of their own, where a map of observations exists', () => {
    for (const hook of ['appointment-book', 'order-select', 'order-sign']) {
      const templates = prefetchTemplates(service(hook), rulebook, site.measureCodes);
      expect(templates['localMeasures'], hook).toBe(template);
      const { localMeasures, ...others } = templates;
      expect(localMeasures).toBeDefined();
      // The other templates are a public interface.
      expect(others).toEqual(prefetchTemplates(service(hook), rulebook));
    }
    // The chart reads measures later.
    expect(prefetchTemplates(service('patient-view'), rulebook, site.measureCodes)).not.toHaveProperty(
      'localMeasures',
    );
  });

  it('are read from prefetch with the map, and not looked at without', async () => {
    const call = orderCall({ measures: [], prefetch: { localMeasures: searchset(...LOCAL) } });
    const { cards } = await ask(call, { installation: site });
    expect(rulesOf(cards)).toEqual(['cup-inclination-outside-published']);
    // A qualifier the map supplied counts as assumed, and is said.
    const advisory = cards[0]?.extension['example.kotyle.advisory'];
    expect(JSON.stringify(advisory)).toContain("angle definition radiographic by the site's map");
    expect(advisory?.['confidence']).not.toMatchObject({ data: 'complete' });
    for (const settings of [{}, { installation: installation({}, ORDER_MAP) }])
      expect((await ask(call, settings)).cards).toEqual([]);
  });

  it('are read with a token at ordering, and at the chart once it is a hip chart', async () => {
    const server = await startFhirServer([PATIENT, { ...ORDER, status: 'active' }, ...LOCAL]);
    try {
      const fallback = { fhirServers: [server.base], fhirBudgetMs: AMPLE_MS };
      const { prefetch, ...sign } = orderCall();
      expect(prefetch).toBeDefined();
      const chart = { ...sign, hook: 'patient-view', context: { ...sign.context, draftOrders: undefined } };
      const asked = (): number =>
        server.requests.filter(({ url }) => decodeURIComponent(url).includes(MEASURES)).length;
      for (const call of [sign, chart]) {
        const before = asked();
        const body = { ...call, ...accessTo(server.base) };
        expect(rulesOf((await ask(body, { ...fallback, installation: site })).cards)).toEqual([
          'cup-inclination-outside-published',
        ]);
        expect(asked() - before).toBe(1);
        expect(rulesOf((await ask(body, fallback)).cards)).toEqual([]);
        expect(asked() - before).toBe(1);
      }
    } finally {
      await server.stop();
    }
  });

  it('that could not be read are named in the data-gap card', async () => {
    const { cards } = await ask(orderCall({ measures: [], prefetch: { conditions: searchset(PARKINSON) } }), {
      installation: site,
    });
    const gap = cards.find((card) => card.source.topic.code === 'data-gap');
    expect(gap?.extension['example.kotyle.advisory']['sets']).toEqual([
      expect.objectContaining({ id: 'localMeasures' }),
    ]);
  });
});

describe('what a site says it never records', () => {
  const { prefetch, ...bare } = orderCall({ measures: [], prefetch: { conditions: searchset(PARKINSON) } });
  const { deviceRequests, ...others } = prefetch;
  const call = { ...bare, prefetch: others };
  const without = installation({ sources: { absent: ['DeviceRequest'] } });

  it('is no gap when it was not sent', async () => {
    expect(deviceRequests).toBeDefined();
    expect(rulesOf((await ask(call)).cards)).toEqual(
      expect.arrayContaining(['data-gap', 'neurological-disease']),
    );
    for (const absent of ['DeviceRequest', 'deviceRequests']) {
      const { cards } = await ask(call, { installation: installation({ sources: { absent: [absent] } }) });
      expect(rulesOf(cards), absent).toEqual(['neurological-disease']);
    }
  });

  it('is neither asked for nor missed with a token', async () => {
    const server = await startFhirServer([PATIENT], { unknownTypes: { DeviceRequest: 404 } });
    try {
      const settings = { installation: without, fhirServers: [server.base], fhirBudgetMs: AMPLE_MS };
      const { cards, decision } = await ask({ ...call, ...accessTo(server.base) }, settings);
      expect(rulesOf(cards)).toEqual(['neurological-disease']);
      expect(server.requests.map(({ url }) => url)).toEqual([]);
      expect(decision.sets).toContainEqual({ key: 'deviceRequests', status: 'complete', count: 0 });
    } finally {
      await server.stop();
    }
  });

  it('is read all the same when it was sent', async () => {
    const cup = {
      resourceType: 'DeviceRequest',
      id: 'cup',
      status: 'active',
      intent: 'order',
      basedOn: [{ reference: 'ServiceRequest/order-1' }],
      codeCodeableConcept: concept(SNOMED, '304120007'),
      subject,
      authoredOn: '2026-11-02',
      parameter: [
        {
          code: concept(OURS, 'cup-inclination'),
          valueQuantity: { value: 64, system: 'http://unitsofmeasure.org', code: 'deg' },
        },
        {
          code: concept(OURS, 'cup-anteversion'),
          valueQuantity: { value: 20, system: 'http://unitsofmeasure.org', code: 'deg' },
        },
      ],
    };
    const sent = orderCall({ measures: [], prefetch: { deviceRequests: searchset(cup) } });
    expect(rulesOf((await ask(sent, { installation: without })).cards)).toEqual([
      'cup-inclination-outside-published',
    ]);
  });
});

describe('what a site usually does', () => {
  const usual = installation({ defaults: { 'head-diameter': 28, 'neck-diameter': 12 } });
  const call = orderCall({ measures: [], prefetch: { conditions: searchset(PARKINSON) } });

  it('decides where the plan says nothing, and is said to be assumed', async () => {
    expect(rulesOf((await ask(call)).cards)).not.toContain('head-neck-ratio-low-with-trigger');
    const { cards } = await ask(call, { installation: usual });
    const card = cards.find(({ source }) => source.topic.code === 'head-neck-ratio-low-with-trigger');
    expect(card?.detail).toMatch(/head diameter 28 mm, site default/i);
    const advisory = card?.extension['example.kotyle.advisory'];
    expect(advisory?.['confidence']).not.toMatchObject({ data: 'complete' });
    expect(JSON.stringify(advisory?.['assumptions'])).toContain('site default');
  });

  it('gives way to a plan', async () => {
    const measures = [planned('head-diameter', 40, 'mm'), planned('neck-diameter', 12, 'mm')];
    const { cards } = await ask(orderCall({ measures, prefetch: { conditions: searchset(PARKINSON) } }), {
      installation: usual,
    });
    expect(rulesOf(cards)).not.toContain('head-neck-ratio-low-with-trigger');
    expect(JSON.stringify(cards)).not.toContain('site default');
  });

  it('does not stand in for a plan that could not be read', async () => {
    const unread = orderCall({ prefetch: { conditions: searchset(PARKINSON), measures: undefined } });
    const { cards } = await ask(unread, { installation: usual });
    expect(rulesOf(cards)).toContain('data-gap');
    expect(JSON.stringify(cards)).not.toContain('site default');
  });
});
