import { pino } from 'pino';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { openStore } from '../../src/store/open-store.js';
import type { Store } from '../../src/store/store.js';
import type { Site } from '../../src/rulebook/site.js';
import { siteOf } from '../facts/sites.js';
import { checkResponse } from '../protocol/logical-model-check.js';
import { rulebook } from '../advice/patients.js';
import {
  cardsFor,
  CHART_PATH,
  chartCall,
  leftHipVisit,
  selectCall,
  send,
  SUBJECT,
  withContext,
} from './hook-calls.js';
import type { HookCall, WireCard } from './test-service.js';
import {
  bookingCall,
  cardsOf,
  LEFT,
  named,
  ORDER,
  ORDER_PATH,
  orderCall,
  planned,
  post,
  problem,
  RIGHT,
  rulesOf,
  searchset,
  TEST_KEY,
  testApp,
  TEXTBOOK,
} from './test-service.js';

// Truth throughout: integration decisions §1 (recognition), §3 (calls); clinical decisions §1 and §2.

const SNOMED = 'http://snomed.info/sct';
const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}

function condition(code: string, more: JsonObject = {}): JsonObject {
  return { resourceType: 'Condition', id: `c-${code}`, code: concept(ICD, code), subject: SUBJECT, ...more };
}

/** Parkinson disease makes every entry speak that recognises a planned hip replacement. */
const PARKINSON = condition('G20.A1');
const SPEAKS = { conditions: searchset(PARKINSON) };
const NEUROLOGICAL = 'neurological-disease';

function procedure(more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id: 'operation',
    status: 'completed',
    code: concept(SNOMED, '52734007'),
    bodySite: [LEFT],
    subject: SUBJECT,
    performedDateTime: '2015-06-01',
    ...more,
  };
}

const IMPLANTS: JsonObject = {
  resourceType: 'DeviceRequest',
  id: 'implants',
  status: 'draft',
  intent: 'order',
  codeCodeableConcept: concept(SNOMED, '304120007'),
  subject: SUBJECT,
};

const KNEE: JsonObject = { ...ORDER, id: 'knee', code: concept(SNOMED, '609588000'), bodySite: [] };

/** Whether the call was taken to be about a hip that will be replaced. */
async function recognises(call: HookCall): Promise<boolean> {
  return rulesOf(await cardsFor(call)).includes(NEUROLOGICAL);
}

const ORDERS: readonly (readonly [what: string, order: JsonObject, signed: boolean, onChart: boolean])[] = [
  ['draft', ORDER, true, true],
  ['active', { ...ORDER, status: 'active' }, true, true],
  ['on hold', { ...ORDER, status: 'on-hold' }, true, true],
  // In draft orders any status but the three that end an order; on record only three are open.
  ['of unknown status', { ...ORDER, status: 'unknown' }, true, false],
  ['revoked', { ...ORDER, status: 'revoked' }, false, false],
  ['completed', { ...ORDER, status: 'completed' }, false, false],
  ['entered in error', { ...ORDER, status: 'entered-in-error' }, false, false],
  ['an option', { ...ORDER, intent: 'option' }, false, false],
  ['not to be performed', { ...ORDER, doNotPerform: true }, false, false],
  ['under a modifier', { ...ORDER, modifierExtension: [{ url: 'http://example.org/not' }] }, false, false],
  ['of a revision', { ...ORDER, code: concept(SNOMED, '112727005') }, true, true],
  ['urgent', { ...ORDER, priority: 'urgent' }, true, true],
  ['stat', { ...ORDER, priority: 'stat' }, true, true],
  ['of a knee', KNEE, false, false],
  ['of a hemiarthroplasty', { ...ORDER, code: concept(SNOMED, '386649003') }, false, false],
];

describe('an order', () => {
  it.each(ORDERS)('%s is recognised where it should be', async (_what, order, signed, onChart) => {
    const id = `ServiceRequest/${String(order['id'])}`;
    expect(await recognises(orderCall({ orders: [order], prefetch: SPEAKS })), 'signed').toBe(signed);
    expect(await recognises(selectCall([order], [id], SPEAKS)), 'selected').toBe(signed);
    const onRecord = chartCall({ ...SPEAKS, serviceRequests: searchset(order) });
    expect(await recognises(onRecord), 'on the chart').toBe(onChart);
    const based = bookingCall(
      { basedOn: [{ reference: id }] },
      { ...SPEAKS, serviceRequests: searchset(order) },
    );
    expect(await recognises(based), 'booked').toBe(onChart);
  });

  it('for implants is one when signed or selected, and plans no operation on the chart', async () => {
    expect(await recognises(orderCall({ orders: [IMPLANTS], prefetch: SPEAKS }))).toBe(true);
    expect(await recognises(selectCall([IMPLANTS], ['DeviceRequest/implants'], SPEAKS))).toBe(true);
    for (const more of [{ status: 'revoked' }, { intent: 'option' }])
      expect(await recognises(orderCall({ orders: [{ ...IMPLANTS, ...more }], prefetch: SPEAKS }))).toBe(
        false,
      );
    const strut = { ...IMPLANTS, codeCodeableConcept: concept(SNOMED, '14106009') };
    expect(await recognises(orderCall({ orders: [strut], prefetch: SPEAKS }))).toBe(false);
    const requests = searchset({ ...IMPLANTS, status: 'active' });
    expect(await recognises(chartCall({ ...SPEAKS, deviceRequests: requests }))).toBe(false);
  });

  it('for a hemiarthroplasty is recognised and kept, without any card, whatever else is wrong', async () => {
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const lines: string[] = [];
    const log = pino({ level: 'info' }, { write: (line: string) => lines.push(line) });
    const order = { ...ORDER, code: concept(SNOMED, '386649003') };
    const measures = [planned('cup-inclination', 400, 'deg')];
    const call = orderCall({ orders: [order], measures, prefetch: SPEAKS });
    expect(await cardsFor(call, testApp({ store, log }))).toEqual([]);
    expect(lines.join()).toContain('"recognised":"yes"');
    await store.close();
  });
});

describe('order-select', () => {
  const HIP = 'ServiceRequest/order-1';

  async function leniencies(call: HookCall): Promise<unknown> {
    const lines: string[] = [];
    const log = pino({ level: 'info' }, { write: (line: string) => lines.push(line) });
    await cardsFor(call, testApp({ log }));
    return (JSON.parse(lines.at(-1) ?? '{}') as JsonObject)['leniencies'];
  }

  it('looks at what was just selected: a hip order in the background says nothing', async () => {
    expect(await recognises(selectCall([ORDER, KNEE], [HIP], SPEAKS))).toBe(true);
    expect(await recognises(selectCall([ORDER, KNEE], ['ServiceRequest/knee'], SPEAKS))).toBe(false);
    expect(await leniencies(selectCall([ORDER, KNEE], [HIP], SPEAKS))).toEqual([]);
  });

  it('takes all drafts as selected when the selection names none of them, and counts that', async () => {
    const { id, ...nameless } = ORDER;
    expect(id).toBe('order-1');
    for (const call of [
      selectCall([ORDER, KNEE], ['ServiceRequest/elsewhere'], SPEAKS),
      selectCall([ORDER], [], SPEAKS),
      selectCall([nameless], [HIP], SPEAKS),
    ]) {
      expect(await recognises(call)).toBe(true);
      expect(await leniencies(call)).toContain('selections name none of the draft orders');
    }
  });

  it('knows a draft by the full URL of its entry too', async () => {
    const { id, ...nameless } = ORDER;
    expect(id).toBe('order-1');
    const url = 'urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0';
    const call = selectCall([KNEE], [url], SPEAKS);
    const entry = [{ fullUrl: url, resource: nameless }, { resource: KNEE }];
    const draftOrders = { resourceType: 'Bundle', type: 'collection', entry };
    expect(await recognises(withContext(call, { draftOrders }))).toBe(true);
    // The same order with an id of its own, still selected by the URL of its entry.
    const both = [{ fullUrl: url, resource: ORDER }, { resource: KNEE }];
    const sited = withContext(call, { draftOrders: { ...draftOrders, entry: both } });
    expect(await recognises(sited)).toBe(true);
    // The hook library: a selection is ResourceType/id, which a URL is not; that it names none is not said.
    expect(await leniencies(sited)).toEqual(['selection without its type']);
  });
});

describe('a chart', () => {
  it('is of a planned replacement by an order, a procedure in preparation or a visit', async () => {
    const visit = {
      resourceType: 'Appointment',
      id: 'visit',
      status: 'booked',
      participant: [{ actor: SUBJECT, status: 'accepted' }],
      serviceType: [concept(SNOMED, '770606008')],
    };
    for (const sets of [
      { serviceRequests: searchset({ ...ORDER, status: 'active' }) },
      { procedures: searchset(procedure({ status: 'preparation' })) },
      { appointments: searchset(visit) },
    ])
      expect(await recognises(chartCall({ ...SPEAKS, ...sets })), Object.keys(sets).join()).toBe(true);
    const cancelled = { appointments: searchset({ ...visit, status: 'cancelled' }) };
    expect(await recognises(chartCall({ ...SPEAKS, ...cancelled }))).toBe(false);
    expect(await recognises(chartCall(SPEAKS))).toBe(false);
  });

  it('of an old replacement is silent, by whatever it is known, even when sets are missing', async () => {
    const device = {
      resourceType: 'Device',
      id: 'd',
      status: 'active',
      type: concept(SNOMED, '304120007'),
      patient: SUBJECT,
    };
    for (const sets of [
      { procedures: searchset(procedure()) },
      { devices: searchset(device) },
      { conditions: searchset(condition('Z96.642')) },
    ] satisfies readonly JsonObject[]) {
      const { measures, observations, appointments, deviceUses, ...fewer } = chartCall(sets).prefetch;
      expect([measures, observations, appointments, deviceUses]).not.toContain(undefined);
      expect(await cardsFor(chartCall(sets))).toEqual([]);
      expect(await cardsFor({ ...chartCall(), prefetch: fewer })).toEqual([]);
    }
  });

  it('that nobody could look into is refused with 412, and one that was looked into is not', async () => {
    const { serviceRequests, procedures, conditions, ...others } = chartCall().prefetch;
    const failed = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'exception' }] };
    problem(await send({ ...chartCall(), prefetch: others }), 412);
    const refused = { ...others, serviceRequests: failed, procedures: failed, conditions: failed };
    problem(await send({ ...chartCall(), prefetch: refused }), 412);
    for (const one of [{ serviceRequests }, { procedures }, { conditions }, { conditions: null }])
      expect(await cardsFor({ ...chartCall(), prefetch: { ...others, ...one } })).toEqual([]);
  });
});

describe('a booking', () => {
  it('that rests on a reference nobody can follow is refused with 412, and no other is', async () => {
    const unknown = bookingCall({ basedOn: [{ reference: 'ServiceRequest/elsewhere' }] }, SPEAKS);
    problem(await send(unknown), 412);
    const reason = bookingCall({ reasonReference: [{ reference: 'Procedure/elsewhere' }] }, SPEAKS);
    problem(await send(reason), 412);
    const told = bookingCall(
      { basedOn: [{ reference: 'ServiceRequest/elsewhere' }], serviceType: [ORDER['code']] },
      SPEAKS,
    );
    expect(await recognises(told)).toBe(true);
    expect(await cardsFor(bookingCall({}, SPEAKS))).toEqual([]);
  });
});

describe('the audience', () => {
  const ROLE = 'https://codes.example/roles';
  const site: Site = siteOf([
    {
      path: 'site.json',
      content: {
        id: 'test-site',
        version: '1',
        audience: {
          'hip-stability-booking': [`${ROLE}|surgeon`],
          'hip-stability-chart': [`${ROLE}|surgeon`],
        },
      },
    },
  ]);
  const app = testApp({ installation: site });
  const role = (code: string, more: JsonObject = {}): JsonObject => ({
    user: { resourceType: 'PractitionerRole', id: 'r', active: true, code: [concept(ROLE, code)], ...more },
  });
  const chart = { ...SPEAKS, serviceRequests: searchset({ ...ORDER, status: 'active' }) };

  it('of patients and relatives gets no card at any entry', async () => {
    for (const userId of ['Patient/patient-1', 'RelatedPerson/daughter']) {
      for (const call of [
        leftHipVisit({}, SPEAKS),
        orderCall({ prefetch: SPEAKS }),
        selectCall([ORDER], ['ServiceRequest/order-1'], SPEAKS),
        chartCall(chart),
      ]) {
        expect(rulesOf(await cardsFor(call)), call.hook).toContain(NEUROLOGICAL);
        expect(await cardsFor(withContext(call, { userId })), call.hook).toEqual([]);
      }
    }
  });

  it('that a site lists reads its cards, others read none; services without a list are for everybody', async () => {
    expect(rulesOf(await cardsFor(chartCall({ ...chart, ...role('surgeon') }), app))).toContain(NEUROLOGICAL);
    for (const user of [role('clerk'), role('surgeon', { active: false }), {}, { user: null }])
      expect(await cardsFor(chartCall({ ...chart, ...user }), app)).toEqual([]);
    expect(rulesOf(await cardsFor(orderCall({ prefetch: SPEAKS }), app))).toContain(NEUROLOGICAL);
  });

  it('that is verified reads options at booking; whoever else books reads the finding and missing work-up', async () => {
    const listed = await cardsFor(leftHipVisit({}, { ...SPEAKS, ...role('surgeon') }), app);
    const anybody = await cardsFor(leftHipVisit({}, SPEAKS));
    const detailOf = (cards: readonly WireCard[]): string =>
      cards.find(({ source }) => source.topic.code === NEUROLOGICAL)?.detail ?? '';
    expect(detailOf(listed)).toContain('**Options**');
    expect(detailOf(anybody)).not.toBe('');
    expect(detailOf(anybody)).not.toContain('**Options**');
    expect(await cardsFor(leftHipVisit({}, { ...SPEAKS, ...role('clerk') }), app)).toEqual([]);
  });
});

describe('what is acute', () => {
  const DISLOCATED = condition('T84.021A');
  const REPLACED = procedure();
  /** A hip in place that has dislocated twice: what a chart speaks of. */
  const unstable = {
    procedures: searchset(REPLACED),
    conditions: searchset(
      { ...DISLOCATED, onsetDateTime: '2026-03-01' },
      { ...DISLOCATED, id: 'again', onsetDateTime: '2026-08-01' },
    ),
    measures: searchset({
      ...planned('cup-inclination', 62, 'deg'),
      basedOn: [],
      category: [
        concept('https://kotyle.example/fhir/CodeSystem/measure-stage', 'postoperative'),
        concept('https://kotyle.example/fhir/CodeSystem/measure-group', 'hip-stability'),
      ],
    }),
  };
  const reduction = (code: string, more: JsonObject = {}): JsonObject => ({
    ...ORDER,
    id: 'reduction',
    status: 'active',
    code: concept(PCS, code),
    bodySite: [],
    ...more,
  });
  const emergency = {
    encounter: { resourceType: 'Encounter', id: 'e', status: 'in-progress', class: { code: 'EMER' } },
  };
  const rightOrder = { ...ORDER, id: 'order-right', status: 'active', bodySite: [RIGHT] };
  const ofLeft = (cards: readonly WireCard[]): readonly string[] =>
    named(cards)
      .filter(({ hip }) => hip !== 'right')
      .map(({ rule }) => rule);

  it('does speak of a hip that dislocated, so that silence below means something', async () => {
    expect(ofLeft(await cardsFor(chartCall(unstable))).length).toBeGreaterThan(0);
  });

  it('is a closed reduction that is ordered: nothing is said of that hip', async () => {
    // ICD-10-PCS 0SWBXJZ: revision of the substitute in the left hip joint, external; 0SSBXZZ: reposition of the left
    // hip joint, external, by which coders also mean a prosthesis.
    for (const code of ['0SWBXJZ', '0SSBXZZ']) {
      const serviceRequests = searchset(reduction(code));
      expect(await cardsFor(chartCall({ ...unstable, serviceRequests })), code).toEqual([]);
      // A replacement planned for the other hip opens nothing here.
      const beside = searchset(reduction(code), rightOrder);
      expect(ofLeft(await cardsFor(chartCall({ ...unstable, serviceRequests: beside }))), code).toEqual([]);
    }
    const other = searchset(reduction('0SW9XJZ'));
    expect(ofLeft(await cardsFor(chartCall({ ...unstable, serviceRequests: other }))).length).toBeGreaterThan(
      0,
    );
    for (const more of [{ status: 'completed' }, { doNotPerform: true }, { intent: 'option' }]) {
      const serviceRequests = searchset(reduction('0SWBXJZ', more));
      expect(ofLeft(await cardsFor(chartCall({ ...unstable, serviceRequests }))).length).toBeGreaterThan(0);
    }
  });

  it('is no reason to say nothing where a replacement of that hip is ordered', async () => {
    const serviceRequests = searchset(reduction('0SWBXJZ'));
    const call = orderCall({ prefetch: { ...SPEAKS, serviceRequests } });
    expect(rulesOf(await cardsFor(call))).toContain(NEUROLOGICAL);
  });

  it('is an operation going on at that hip, and not one at the other', async () => {
    const running = (site: JsonObject): JsonObject =>
      procedure({ status: 'in-progress', bodySite: [site], performedDateTime: new Date().toISOString() });
    const measures = searchset(...TEXTBOOK);
    const at = (site: JsonObject): HookCall =>
      orderCall({ prefetch: { ...SPEAKS, measures, procedures: searchset(running(site)) } });
    expect(await cardsFor(at(LEFT))).toEqual([]);
    expect(rulesOf(await cardsFor(at(RIGHT)))).toContain(NEUROLOGICAL);
  });

  it('is an emergency visit, unless a replacement is ordered or booked', async () => {
    expect(await cardsFor(chartCall({ ...unstable, ...emergency }))).toEqual([]);
    const over = { encounter: { ...emergency.encounter, class: { code: 'IMP' } } };
    expect(ofLeft(await cardsFor(chartCall({ ...unstable, ...over }))).length).toBeGreaterThan(0);
    // Clinical decisions §2: urgent fracture arthroplasty is a normal booking and must be heard.
    for (const priority of ['urgent', 'stat']) {
      const order = { ...ORDER, priority };
      const signed = orderCall({ orders: [order], prefetch: { ...SPEAKS, ...emergency } });
      expect(rulesOf(await cardsFor(signed)), priority).toContain(NEUROLOGICAL);
      const onChart = { ...SPEAKS, ...emergency, serviceRequests: searchset({ ...order, status: 'active' }) };
      expect(rulesOf(await cardsFor(chartCall(onChart))), priority).toContain(NEUROLOGICAL);
    }
    expect(rulesOf(await cardsFor(leftHipVisit({}, { ...SPEAKS, ...emergency })))).toContain(NEUROLOGICAL);
  });
});

/** Two hips with everything wrong that can be wrong, and differently on each. */
const rightOf = (measure: JsonObject): JsonObject => ({
  ...measure,
  id: `right-${String(measure['id'])}`,
  bodySite: RIGHT,
  basedOn: [{ reference: 'ServiceRequest/order-2' }],
});
const LEFT_PLAN = [
  planned('cup-inclination', 62, 'deg'),
  planned('cup-anteversion', 48, 'deg'),
  planned('head-diameter', 22, 'mm'),
  planned('neck-diameter', 14, 'mm'),
  planned('cup-outer-diameter', 900, 'mm'),
];
const RIGHT_PLAN = [
  planned('cup-inclination', 22, 'deg'),
  planned('cup-anteversion', 52, 'deg'),
  planned('head-diameter', 28, 'mm'),
  planned('neck-diameter', 16, 'mm'),
  planned('cup-outer-diameter', 800, 'mm'),
].map(rightOf);
const UNREADABLE = { ...planned('cup-colour', 3, 'mm'), id: 'unreadable' };
const STRANGER = {
  ...planned('head-diameter', 28, 'mm'),
  id: 'stranger',
  subject: { reference: 'Patient/other' },
};
const WRONG = {
  conditions: searchset(PARKINSON),
  measures: searchset(...LEFT_PLAN, ...RIGHT_PLAN, UNREADABLE, STRANGER),
};
const RIGHT_ORDER = { ...ORDER, id: 'order-2', bodySite: [RIGHT] };

describe('the ceiling', () => {
  const visit = bookingCall(
    { basedOn: [{ reference: 'ServiceRequest/order-1' }, { reference: 'ServiceRequest/order-2' }] },
    {
      ...WRONG,
      serviceRequests: searchset({ ...ORDER, status: 'active' }, { ...RIGHT_ORDER, status: 'active' }),
    },
  );
  const calls: Readonly<Record<string, readonly [HookCall, number]>> = {
    booking: [visit, 3],
    selection: [
      selectCall([ORDER, RIGHT_ORDER], ['ServiceRequest/order-1', 'ServiceRequest/order-2'], WRONG),
      5,
    ],
    signing: [orderCall({ orders: [ORDER, RIGHT_ORDER], prefetch: WRONG }), 5],
    chart: [
      chartCall({
        ...WRONG,
        serviceRequests: searchset({ ...ORDER, status: 'active' }, { ...RIGHT_ORDER, status: 'active' }),
      }),
      3,
    ],
  };

  function isPlain({ indicator, source }: WireCard): boolean {
    return (
      indicator !== 'critical' && source.topic.code !== 'more-advisories' && source.topic.code !== 'data-gap'
    );
  }

  it.each(Object.entries(calls))(
    'of %s holds, with critical cards outside it',
    async (_name, [call, most]) => {
      const cards = await cardsFor(call);
      expect(cards.filter(isPlain)).toHaveLength(most);
      expect(rulesOf(cards.filter(({ indicator }) => indicator === 'critical'))).toEqual([
        'other-patient-record',
      ]);
      expect(cards[0]?.indicator).toBe('critical');
      const more = cards.filter(({ source }) => source.topic.code === 'more-advisories');
      expect(more).toHaveLength(1);
      expect(checkResponse({ cards })).toEqual([]);
    },
  );

  it.each(Object.entries(calls))(
    'of %s names what it leaves out: nothing found is lost',
    async (_name, [call]) => {
      const site = (ceiling: number): Site => ({
        ...siteOf([{ path: 'site.json', content: { id: 's', version: '1' } }]),
        ceiling: new Map([[call.hook, ceiling]]),
      });
      const all = (await cardsFor(call, testApp({ installation: site(99) }))).filter(isPlain);
      const none = await cardsFor(call, testApp({ installation: site(0) }));
      expect(none.filter(isPlain)).toEqual([]);
      const [more] = none.filter(({ source }) => source.topic.code === 'more-advisories');
      for (const { summary } of all) expect(more?.detail).toContain(summary);
      expect(more?.extension['example.kotyle.advisory']['rules']).toEqual(rulesOf(all));
      const shown = await cardsFor(call);
      // The most serious stay: what is shown is the head of the whole list.
      expect(shown.filter(isPlain).map(({ summary }) => summary)).toEqual(
        all.slice(0, shown.filter(isPlain).length).map(({ summary }) => summary),
      );
    },
  );

  it('is not mentioned when nothing is left out', async () => {
    const cards = await cardsFor(orderCall({ prefetch: SPEAKS }));
    expect(rulesOf(cards)).toContain(NEUROLOGICAL);
    expect(rulesOf(cards)).not.toContain('more-advisories');
  });
});

describe('one answer', () => {
  it('has at most one card about missing data, however much is missing, on both hips', async () => {
    const { prefetch, ...bare } = orderCall({ orders: [ORDER, RIGHT_ORDER] });
    expect(Object.keys(prefetch).length).toBeGreaterThan(5);
    const cards = cardsOf(await post(testApp(), ORDER_PATH, bare));
    expect(rulesOf(cards).filter((rule) => rule === 'data-gap')).toHaveLength(1);
  });

  it('says once what is word for word the same of both hips', async () => {
    const steep = planned('cup-inclination', 62, 'deg');
    const same = searchset(steep, rightOf(steep));
    const cards = await cardsFor(orderCall({ orders: [ORDER, RIGHT_ORDER], prefetch: { measures: same } }));
    const about = named(cards).filter(({ rule }) => rule === 'cup-inclination-outside-published');
    expect(about).toEqual([{ rule: 'cup-inclination-outside-published', hip: 'both', indicator: 'warning' }]);
    expect(cards.map(({ summary }) => summary).join()).toContain('Both hips');
    const different = searchset(steep, rightOf(planned('cup-inclination', 64, 'deg')));
    const two = await cardsFor(
      orderCall({ orders: [ORDER, RIGHT_ORDER], prefetch: { measures: different } }),
    );
    const hips = named(two).filter(({ rule }) => rule === 'cup-inclination-outside-published');
    expect(hips.map(({ hip }) => hip).sort()).toEqual(['left', 'right']);
  });

  it('is the same bytes when the same call comes again', async () => {
    const app = testApp();
    for (const call of [
      orderCall({ orders: [ORDER, RIGHT_ORDER], prefetch: WRONG }),
      leftHipVisit({}, WRONG),
      chartCall({ ...WRONG, serviceRequests: searchset({ ...ORDER, status: 'active' }) }),
      selectCall([ORDER], ['ServiceRequest/order-1'], WRONG),
    ]) {
      const first = await send(call, app);
      expect((await send(call, app)).text).toBe(first.text);
      expect(cardsOf(first).length).toBeGreaterThan(1);
    }
  });

  it('has card ids of version 8 that differ between calls and entries, and no two alike', async () => {
    const sign = orderCall({ orders: [ORDER, RIGHT_ORDER], prefetch: WRONG });
    const again = { ...sign, hookInstance: '7d3b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e10' };
    const select = selectCall(
      [ORDER, RIGHT_ORDER],
      ['ServiceRequest/order-1', 'ServiceRequest/order-2'],
      WRONG,
    );
    const uuids = (await Promise.all([sign, again, select].map(async (call) => await cardsFor(call))))
      .flat()
      .map(({ uuid }) => uuid);
    expect(new Set(uuids).size).toBe(uuids.length);
    // RFC 9562, section 5.8.
    for (const uuid of uuids)
      expect(uuid).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });
});

describe('an acknowledged card', () => {
  let store: Store;
  beforeEach(async () => {
    store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  });
  afterEach(() => store.close());

  const steep = (inclination: number): HookCall =>
    orderCall({ measures: [planned('cup-inclination', inclination, 'deg'), ...TEXTBOOK.slice(1)] });
  const RULE = 'cup-inclination-outside-published';
  const again = (call: HookCall, index: number): HookCall => ({
    ...call,
    hookInstance: `3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e1${index}`,
  });

  function answerTo(card: WireCard, outcome: 'accepted' | 'overridden'): JsonObject {
    const [suggestion] = (card as unknown as { readonly suggestions: readonly { readonly uuid: string }[] })
      .suggestions;
    return {
      card: card.uuid,
      outcome,
      outcomeTimestamp: '2026-11-24T09:59:00Z',
      ...(outcome === 'accepted' && { acceptedSuggestions: [{ id: suggestion?.uuid }] }),
    };
  }

  it.each(['accepted', 'overridden'] as const)(
    'that was %s is silent on the next call and comes back with another value',
    async (outcome) => {
      const app = testApp({ store });
      const [card] = await cardsFor(steep(62), app);
      expect(card?.source.topic.code).toBe(RULE);
      if (!card) return;
      // Shown but not answered, it repeats.
      expect(rulesOf(await cardsFor(again(steep(62), 1), app))).toContain(RULE);
      const reply = await post(app, `${ORDER_PATH}/feedback`, { feedback: [answerTo(card, outcome)] });
      expect(reply.status).toBe(200);
      expect(rulesOf(await cardsFor(again(steep(62), 2), app))).not.toContain(RULE);
      expect(rulesOf(await cardsFor(again(steep(64), 3), app))).toContain(RULE);
    },
  );

  it('is acknowledged for its patient alone', async () => {
    const app = testApp({ store });
    const [card] = await cardsFor(steep(62), app);
    if (!card) throw new Error('no card');
    await post(app, `${ORDER_PATH}/feedback`, { feedback: [answerTo(card, 'overridden')] });
    const other = JSON.parse(
      JSON.stringify(again(steep(62), 4)).replaceAll('patient-1', 'patient-2'),
    ) as HookCall;
    expect(rulesOf(await cardsFor(other, app))).toContain(RULE);
  });

  it('about sides repeats however often it was answered', async () => {
    const app = testApp({ store });
    const call = orderCall({ orders: [{ ...ORDER, code: concept(SNOMED, '443435007') }] });
    for (let index = 1; index < 4; index += 1) {
      const cards = await cardsFor(again(call, index), app);
      const side = cards.find(({ source }) => source.topic.code === 'hip-side-conflict');
      expect(side?.indicator).toBe('critical');
      if (!side) return;
      const outcome = index % 2 === 0 ? 'accepted' : 'overridden';
      const reply = await post(app, `${ORDER_PATH}/feedback`, { feedback: [answerTo(side, outcome)] });
      expect(reply.status).toBe(200);
    }
  });
});

describe('KOTYLE_DISTINCT_IDS', () => {
  const SELECT_PATH = '/cds-services/hip-stability-order-select';
  const call = selectCall([ORDER], ['ServiceRequest/order-1'], SPEAKS);

  it('gives order-select an id of its own, for calls and for feedback', async () => {
    const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const apart = testApp({ distinctIds: true, store });
    const cards = cardsOf(await post(apart, SELECT_PATH, call));
    expect(rulesOf(cards)).toContain(NEUROLOGICAL);
    problem(await post(apart, ORDER_PATH, call), 400);
    expect(rulesOf(cardsOf(await post(apart, ORDER_PATH, orderCall({ prefetch: SPEAKS }))))).toContain(
      NEUROLOGICAL,
    );
    const feedback = [
      { card: cards[0]?.uuid, outcome: 'overridden', outcomeTimestamp: '2026-11-24T09:59:00Z' },
    ];
    expect((await post(apart, `${SELECT_PATH}/feedback`, { feedback })).status).toBe(200);
    expect(await store.answersTo(String(cards[0]?.uuid))).toMatchObject([
      { service: 'hip-stability-order-select' },
    ]);
    await store.close();
  });

  it('off, one id answers both hooks and the other id is unknown', async () => {
    const together = testApp();
    expect(rulesOf(cardsOf(await post(together, ORDER_PATH, call)))).toContain(NEUROLOGICAL);
    problem(await post(together, SELECT_PATH, call), 404);
    problem(await post(together, `${SELECT_PATH}/feedback`, { feedback: [] }), 404);
    problem(await post(together, CHART_PATH, call), 400);
  });
});

it('the ceilings of the shipped rulebook are those decided', () => {
  // Integration decisions §3: 3 at booking and chart, 5 at ordering.
  expect(rulebook.about.ceilings).toEqual({
    'appointment-book': 3,
    'order-select': 5,
    'order-sign': 5,
    'patient-view': 3,
  });
});
