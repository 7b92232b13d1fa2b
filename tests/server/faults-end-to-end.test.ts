import { Writable } from 'node:stream';
import type { Express } from 'express';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { service } from '../advice/patients.js';
import { listen } from '../fhir-server/listening.js';
import type { Listening } from '../fhir-server/listening.js';
import { FAULTS, startFaultyRecord } from './faulty-record.js';
import type { Fault, FaultyRecord } from './faulty-record.js';
import { sendJson } from './fallback/faulty-server.js';
import { each } from '../long-form.js';
import { accessTo, pathOfHook, queriesFor } from './record-calls.js';
import { cardsOf, collection, HOOK_INSTANCE, post, problem, testApp } from './test-service.js';
import type { HookCall, Reply } from './test-service.js';

/** Stands in every id and in the token: it may be in no log and at no other server. */
const MARK = 'Zqx';
const TOKEN = `${MARK}token`;
const BUDGET_MS = 8000;
/** Long enough for a request to arrive at all on a machine that does other work. */
const SLOW_BUDGET_MS = 800;
/** Machines that run tests are busy: bounds are there to find what never ends. */
const SLACK_MS = 8000;

const SNOMED = 'http://snomed.info/sct';
const OURS = 'https://kotyle.example/fhir/CodeSystem';
const subject = { reference: `Patient/${MARK}patient` };
const concept = (system: string, code: string): JsonObject => ({ coding: [{ system, code }] });
const LEFT = concept(SNOMED, '287679003');
const TOTAL_HIP = concept(SNOMED, '52734007');
const degrees = (value: number): JsonObject => ({
  valueQuantity: { value, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
});

function hipOrder(id: string, status: string): JsonObject {
  return {
    resourceType: 'ServiceRequest',
    id,
    status,
    intent: 'order',
    code: TOTAL_HIP,
    bodySite: [LEFT],
    subject,
  };
}

function cupOrder(id: string, basedOn: string, side: string, inclination: number): JsonObject {
  return {
    resourceType: 'DeviceRequest',
    id,
    status: 'draft',
    intent: 'order',
    basedOn: [{ reference: `ServiceRequest/${basedOn}` }],
    codeCodeableConcept: concept(SNOMED, '304120007'),
    subject,
    authoredOn: '2026-11-02',
    parameter: [
      {
        code: concept(`${OURS}/hip-measure`, 'hip-side'),
        valueCodeableConcept: concept(`${OURS}/hip-measure-value`, side),
      },
      { code: concept(`${OURS}/hip-measure`, 'cup-inclination'), ...degrees(inclination) },
      { code: concept(`${OURS}/hip-measure`, 'cup-anteversion'), ...degrees(20) },
    ],
  };
}

function measure(code: string, value: JsonObject): JsonObject {
  return {
    resourceType: 'Observation',
    id: `${MARK}${code}`,
    status: 'preliminary',
    basedOn: [{ reference: `ServiceRequest/${MARK}order` }],
    category: [
      concept(`${OURS}/measure-stage`, 'planned'),
      concept(`${OURS}/measure-group`, 'hip-stability'),
    ],
    code: concept(`${OURS}/hip-measure`, code),
    subject,
    effectiveDateTime: '2026-11-02',
    bodySite: LEFT,
    ...value,
  };
}

/** Something in every set, all of it about one patient. */
const RECORD: readonly JsonObject[] = [
  { resourceType: 'Patient', id: `${MARK}patient`, gender: 'female', birthDate: '1950-01-01' },
  {
    resourceType: 'PractitionerRole',
    id: `${MARK}role`,
    code: [concept('https://codes.example/roles', 'surgeon')],
  },
  { resourceType: 'Encounter', id: `${MARK}visit`, status: 'planned', class: { code: 'AMB' }, subject },
  {
    resourceType: 'Condition',
    id: `${MARK}parkinson`,
    subject,
    clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', 'active'),
    verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'confirmed'),
    code: concept('http://hl7.org/fhir/sid/icd-10-cm', 'G20.A1'),
  },
  {
    resourceType: 'Procedure',
    id: `${MARK}knee`,
    status: 'completed',
    subject,
    code: concept(SNOMED, '609588000'),
  },
  measure('cup-inclination', degrees(60)),
  measure('cup-anteversion', degrees(20)),
  measure('stem-anteversion', degrees(15)),
  {
    resourceType: 'Observation',
    id: `${MARK}bmi`,
    status: 'final',
    subject,
    code: concept('http://loinc.org', '39156-5'),
    effectiveDateTime: '2026-11-01',
    valueQuantity: { value: 31, unit: 'kg/m2', system: 'http://unitsofmeasure.org', code: 'kg/m2' },
  },
  { resourceType: 'Device', id: `${MARK}pacemaker`, status: 'active', patient: subject },
  {
    resourceType: 'DeviceUseStatement',
    id: `${MARK}use`,
    status: 'active',
    subject,
    device: { reference: `Device/${MARK}pacemaker` },
  },
  hipOrder(`${MARK}order`, 'active'),
  cupOrder(`${MARK}cup`, `${MARK}order`, 'left', 60),
  {
    resourceType: 'Appointment',
    id: `${MARK}check`,
    status: 'booked',
    serviceType: [concept(SNOMED, '310249008')],
    participant: [{ actor: subject, status: 'accepted' }],
  },
];

const DRAFTS = {
  selections: [`ServiceRequest/${MARK}draft`, `DeviceRequest/${MARK}left`, `DeviceRequest/${MARK}right`],
  draftOrders: collection(
    hipOrder(`${MARK}draft`, 'draft'),
    cupOrder(`${MARK}left`, `${MARK}draft`, 'left', 64),
    cupOrder(`${MARK}right`, `${MARK}draft`, 'right', 40),
  ),
};

function booking(appointment: JsonObject): JsonObject {
  return {
    appointments: collection({
      resourceType: 'Appointment',
      id: `${MARK}booked`,
      status: 'proposed',
      participant: [{ actor: subject, status: 'needs-action' }],
      ...appointment,
    }),
  };
}

interface EntryCase {
  readonly hook: string;
  readonly context: JsonObject;
  /** What the entry can't do without: when none of these sets can be had, recognition can't be decided. */
  readonly decides: readonly string[];
  /** Rules that speak from the context alone, whatever the record system does. */
  readonly always: readonly string[];
}

const ORDER_CHECKS = ['hip-side-conflict', 'cup-inclination-outside-published'];

// Integration decisions section 2, the table of required data.
const ENTRIES: Readonly<Record<string, EntryCase>> = {
  'a coded booking': {
    hook: 'appointment-book',
    context: booking({ serviceType: [TOTAL_HIP] }),
    decides: [],
    always: [],
  },
  'a booking that names its order': {
    hook: 'appointment-book',
    context: booking({ basedOn: [{ reference: `ServiceRequest/${MARK}order` }] }),
    decides: ['reference'],
    always: [],
  },
  'orders being chosen': { hook: 'order-select', context: DRAFTS, decides: [], always: ORDER_CHECKS },
  'orders being signed': { hook: 'order-sign', context: DRAFTS, decides: [], always: ORDER_CHECKS },
  'the chart': {
    hook: 'patient-view',
    context: {},
    decides: ['serviceRequests', 'procedures', 'conditions'],
    always: [],
  },
};

const SINGLE: ReadonlySet<string> = new Set(['patient', 'user', 'encounter', 'reference']);

function callOf({ hook, context }: EntryCase): HookCall {
  const ids = {
    userId: `PractitionerRole/${MARK}role`,
    patientId: `${MARK}patient`,
    encounterId: `${MARK}visit`,
  };
  return { hook, hookInstance: HOOK_INSTANCE, context: { ...ids, ...context }, prefetch: {} };
}

/** Every fetch of an entry. */
function fetchesOf({ hook, decides }: EntryCase): readonly string[] {
  const { keys, laterKeys } = service(hook);
  return [...keys, ...laterKeys, ...decides.filter((key) => key === 'reference')];
}

interface Asked {
  readonly entry: EntryCase;
  readonly fault: Fault;
  /** The fetches that go wrong. */
  readonly faulty: ReadonlySet<string>;
}

/** Each fetch alone, those that decide together, and all of them. */
function scenariosOf(entry: EntryCase, fault: Fault): readonly Asked[] {
  const fetches = fetchesOf(entry).filter((key) => !(fault.searchesOnly && SINGLE.has(key)));
  const together = [entry.decides.filter((key) => fetches.includes(key)), fetches].filter(
    (keys) => keys.length > 1,
  );
  return [...fetches.map((key) => [key]), ...together].map((keys) => ({
    entry,
    fault,
    faulty: new Set(keys),
  }));
}

const NO_FAULT: Fault = { what: 'nothing wrong', misbehave: () => () => undefined };
const ASKED: readonly Asked[] = [
  ...Object.values(ENTRIES).map((entry) => ({ entry, fault: NO_FAULT, faulty: new Set<string>() })),
  ...FAULTS.flatMap((fault) => Object.values(ENTRIES).flatMap((entry) => scenariosOf(entry, fault))),
];

let record: FaultyRecord;
let stranger: Listening;
let unhurriedApp: Express;
let hurriedApp: Express;
const lines: string[] = [];

beforeAll(async () => {
  stranger = await listen(() => (_request, response) => sendJson(response, { resourceType: 'Bundle' }));
  const queries = Object.values(ENTRIES).flatMap((entry) => queriesFor(callOf(entry)));
  const scenarios = ASKED.map(({ fault, faulty }) => ({ fault, isFaulty: (key: string) => faulty.has(key) }));
  record = await startFaultyRecord(RECORD, queries, scenarios, stranger.origin);
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(chunk.toString('utf8'));
      done();
    },
  });
  const shared = {
    fhirServers: ASKED.map((_asked, index) => record.baseOf(index)),
    log: pino({ level: 'trace' }, stream),
  };
  unhurriedApp = testApp({ ...shared, fhirBudgetMs: BUDGET_MS });
  hurriedApp = testApp({ ...shared, fhirBudgetMs: SLOW_BUDGET_MS });
});

afterAll(async () => {
  await Promise.all([record.stop(), stranger.stop()]);
});

async function ask(asked: Asked): Promise<Reply> {
  const app = asked.fault.slow ? hurriedApp : unhurriedApp;
  const access = accessTo(record.baseOf(ASKED.indexOf(asked)), { token: TOKEN });
  const { prefetch, ...call } = callOf(asked.entry);
  expect(prefetch).toEqual({});
  const started = performance.now();
  const reply = await post(app, pathOfHook(asked.entry.hook), { ...call, ...access });
  expect(performance.now() - started).toBeLessThan(
    (asked.fault.slow ? SLOW_BUDGET_MS : BUDGET_MS) + SLACK_MS,
  );
  return reply;
}

/** What the gap card names, by set; undefined when there is none. */
function gapOf(reply: Reply): readonly string[] | undefined {
  const gaps = cardsOf(reply).filter((card) => card.source.topic.code === 'data-gap');
  // Integration decisions section 2: one data-gap card.
  expect(gaps.length).toBeLessThanOrEqual(1);
  const sets = gaps[0]?.extension['example.kotyle.advisory']['sets'] as
    readonly { readonly id: string }[] | undefined;
  return gaps[0] && (sets ?? []).map(({ id }) => id);
}

function told(reply: Reply): readonly string[] {
  return cardsOf(reply)
    .filter((card) => card.source.topic.code !== 'data-gap')
    .map((card) => card.source.topic.code);
}

const wholes = new Map<EntryCase, Reply>();

async function wholeAnswer(entry: EntryCase): Promise<Reply> {
  const known = wholes.get(entry);
  if (known) return known;
  const asked = ASKED.find((one) => one.entry === entry && one.fault === NO_FAULT);
  if (!asked) throw new Error('expected each entry without a fault');
  const reply = await ask(asked);
  wholes.set(entry, reply);
  return reply;
}

async function expectAnswer(asked: Asked): Promise<void> {
  const { entry, fault, faulty } = asked;
  const reply = await ask(asked);
  const where = `${fault.what} at ${[...faulty].join(', ')}`;
  expect(record.misbehavedIn(ASKED.indexOf(asked)), where).toBeGreaterThan(0);
  const undecided =
    entry.decides.length > 0 && entry.decides.every((key) => faulty.has(key)) && !fault.partly;
  if (undecided) {
    expect(problem(reply, 412, [MARK]), where).toMatchObject([{ code: 'incomplete' }]);
    return;
  }
  expect(reply.status, where).toBe(200);
  const rules = told(reply);
  expect(rules, where).toEqual(expect.arrayContaining([...entry.always]));
  // Nothing is said that would not have been said with everything read.
  const whole = told(await wholeAnswer(entry));
  for (const rule of rules) expect(whole, where).toContain(rule);
  const gap = gapOf(reply);
  // In a hurry, a set without a fault may be late as well.
  if (!fault.slow) expect([...faulty], where).toEqual(expect.arrayContaining([...(gap ?? [])]));
  if (fault.partly) {
    // What stood on the first page still counts; cards of two hips that now say the same become one.
    expect(new Set(rules), where).toEqual(new Set(whole));
    return;
  }
  // Integration decisions section 1, patient-view: with procedures or conditions read and no order, it is no hip chart.
  if (entry.hook === 'patient-view' && faulty.has('serviceRequests')) {
    expect([rules, gap], where).toEqual([[], undefined]);
    return;
  }
  if (faulty.has('conditions')) expect(gap, where).toContain('conditions');
  if (rules.length < whole.length) expect(gap, where).toBeDefined();
}

async function inLanes<Item>(
  items: readonly Item[],
  most: number,
  work: (item: Item) => Promise<void>,
): Promise<void> {
  const waiting = [...items];
  const lane = async (): Promise<void> => {
    for (let item = waiting.shift(); item !== undefined; item = waiting.shift()) await work(item);
  };
  await Promise.all(Array.from({ length: most }, lane));
}

describe('a record system that answers rightly', () => {
  for (const [what, entry] of Object.entries(ENTRIES)) {
    it(`lets everything be said of ${what}`, async () => {
      const reply = await wholeAnswer(entry);
      expect(gapOf(reply)).toBeUndefined();
      expect(told(reply)).toContain('neurological-disease');
      expect(told(reply)).toEqual(expect.arrayContaining([...entry.always]));
    });
  }
});

describe('a record system that answers a fetch with', () => {
  for (const fault of FAULTS) {
    for (const [what, entry] of Object.entries(ENTRIES)) {
      it(`${fault.what} leaves ${what} answered as the table says, in time`, async () => {
        const all = ASKED.filter((one) => one.fault === fault && one.entry === entry);
        expect(all.length).toBeGreaterThan(3);
        const single = all.filter(({ faulty }) => faulty.size === 1);
        const together = all.filter(({ faulty }) => faulty.size > 1);
        await inLanes([...each(3, single, FAULTS.indexOf(fault)), ...together], 12, expectAnswer);
      });
    }
  }
});

describe('through all of it', () => {
  it('the token was sent to no other origin, and nothing else either', () => {
    expect(stranger.requests).toEqual([]);
    expect(record.requests.length).toBeGreaterThan(ASKED.length);
    // F2.
    expect(new Set(record.requests.map(({ authorization }) => authorization))).toEqual(
      new Set([`Bearer ${TOKEN}`]),
    );
  });

  it('nothing of the patient or the token came into the log', () => {
    expect(lines.length).toBeGreaterThan(ASKED.length);
    // G7; style, errors.
    expect(lines.join('')).not.toContain(MARK);
    expect(lines.join('')).not.toContain(record.origin);
  });
});
