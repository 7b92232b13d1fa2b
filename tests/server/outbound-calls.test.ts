import { afterEach, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import type { FhirServer } from '../fhir-server/fhir-server.js';
import { listen } from '../fhir-server/listening.js';
import { sendJson, sendStatus } from './fallback/faulty-server.js';
import { AMPLE_MS } from './fallback/records.js';
import { accessTo, pathOfHook } from './record-calls.js';
import {
  bookingCall,
  cardsOf,
  ORDER,
  orderCall,
  PATIENT,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
} from './test-service.js';
import type { HookCall, Reply, WireCard } from './test-service.js';

const SNOMED = 'http://snomed.info/sct';
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
const ON_RECORD: JsonObject = { ...ORDER, status: 'active' };
const PREPARED: JsonObject = {
  resourceType: 'Procedure',
  id: 'prepared',
  status: 'preparation',
  subject,
  code: ORDER['code'],
  bodySite: ORDER['bodySite'],
};
const STEEP = { ...planned('cup-inclination', 64, 'deg'), id: 'steep' };

let server: FhirServer | undefined;
afterEach(async () => {
  await server?.stop();
});

async function start(...record: readonly JsonObject[]): Promise<FhirServer> {
  server = await startFhirServer([PATIENT, ...record]);
  return server;
}

/** A call without prefetch to a service that may ask the server. */
async function ask(
  call: HookCall,
  asked: FhirServer,
  access: JsonObject = accessTo(asked.base),
): Promise<Reply> {
  const { hook, hookInstance, context } = call;
  const app = testApp({ fhirServers: [asked.base], fhirBudgetMs: AMPLE_MS });
  return await post(app, pathOfHook(hook), { hook, hookInstance, context, ...access });
}

function chartCall(): HookCall {
  return {
    ...orderCall(),
    hook: 'patient-view',
    context: { userId: 'Practitioner/surgeon-1', patientId: 'patient-1' },
  };
}

/** What was asked, as `Type/id` or `Type` for a search. */
function asked({ requests }: FhirServer): readonly string[] {
  return requests.map(({ url }) => url.replace('/fhir/', '').replace(/\?.*/, ''));
}

// Truth throughout: integration decisions sections 1 and 2.
describe('a booking', () => {
  it('of another specialty costs the record system nothing, whatever it names', async () => {
    const record = await start(PARKINSON, STEEP);
    const arthritis = concept(SNOMED, '239872002');
    for (const visit of [
      { serviceType: [concept(SNOMED, '310249008')] },
      // A diagnosis alone never suffices, nor does a reference to one.
      { reasonCode: [arthritis], reasonReference: [{ reference: 'Condition/parkinson' }] },
      {},
      {
        serviceType: [ORDER['code']],
        status: 'cancelled',
        basedOn: [{ reference: 'ServiceRequest/order-1' }],
      },
      {
        serviceType: [ORDER['code']],
        participant: [{ actor: { reference: 'Patient/patient-2' }, status: 'accepted' }],
      },
    ] satisfies readonly JsonObject[])
      expect(cardsOf(await ask(bookingCall(visit), record))).toEqual([]);
    expect(record.requests).toEqual([]);
  });

  it('coded as a hip visit reads its published sets once each', async () => {
    const record = await start(PARKINSON);
    const cards = cardsOf(await ask(bookingCall({ serviceType: [ORDER['code']] }), record));
    expect(rulesOf(cards)).toEqual(['neurological-disease']);
    expect([...asked(record)].sort()).toEqual(
      ['Condition', 'Device', 'Observation', 'Patient/patient-1', 'Procedure', 'ServiceRequest'].sort(),
    );
  });

  it('that only names an order or a procedure has each read by its id, and is then recognised', async () => {
    for (const [visit, name] of [
      [{ basedOn: [{ reference: 'ServiceRequest/order-1' }] }, 'ServiceRequest/order-1'],
      [{ reasonReference: [{ reference: 'Procedure/prepared' }] }, 'Procedure/prepared'],
    ] as const) {
      const record = await start(PARKINSON, ON_RECORD, PREPARED);
      expect(rulesOf(cardsOf(await ask(bookingCall(visit), record)))).toEqual(['neurological-disease']);
      expect(asked(record)[0]).toBe(name);
      expect(asked(record).filter((one) => one === name)).toHaveLength(1);
      await record.stop();
    }
  });

  it('that names several is recognised by the one about a hip, each read once', async () => {
    const knee = { ...ON_RECORD, id: 'knee', code: concept(SNOMED, '609588000'), bodySite: [] };
    const record = await start(PARKINSON, ON_RECORD, knee);
    const basedOn = ['knee', 'order-1', 'knee'].map((id) => ({ reference: `ServiceRequest/${id}` }));
    expect(rulesOf(cardsOf(await ask(bookingCall({ basedOn }), record)))).toEqual(['neurological-disease']);
    expect([...asked(record).slice(0, 2)].sort()).toEqual(['ServiceRequest/knee', 'ServiceRequest/order-1']);
  });

  it('whose order turns out to be another one reads nothing more', async () => {
    const knee = { ...ON_RECORD, code: concept(SNOMED, '609588000'), bodySite: [] };
    const over = { ...ON_RECORD, status: 'completed' };
    for (const order of [knee, over]) {
      const record = await start(PARKINSON, order);
      const basedOn = [{ reference: 'ServiceRequest/order-1' }];
      expect(cardsOf(await ask(bookingCall({ basedOn }), record))).toEqual([]);
      expect(asked(record)).toEqual(['ServiceRequest/order-1']);
      await record.stop();
    }
  });

  it('whose order nobody can read cannot be told', async () => {
    const record = await start(PARKINSON);
    const elsewhere = { basedOn: [{ reference: 'https://other.example/fhir/ServiceRequest/order-1' }] };
    const missing = { basedOn: [{ reference: 'ServiceRequest/never' }] };
    for (const visit of [elsewhere, missing]) problem(await ask(bookingCall(visit), record), 412);
    expect(asked(record)).toEqual(['ServiceRequest/never']);
    // Without a token there is nothing to read it with.
    const named = bookingCall({ basedOn: [{ reference: 'ServiceRequest/order-1' }] });
    problem(await ask(named, record, {}), 412);
    problem(await ask(named, record, { fhirServer: record.base }), 412);
    expect(record.requests).toHaveLength(1);
  });
});

describe('an order', () => {
  it('of another kind costs the record system nothing', async () => {
    const record = await start(PARKINSON, STEEP);
    const knee = { ...ORDER, code: concept(SNOMED, '609588000'), bodySite: [] };
    for (const hook of ['order-sign', 'order-select']) {
      const call = orderCall({ orders: [knee], context: { selections: ['ServiceRequest/order-1'] } });
      expect(cardsOf(await ask({ ...call, hook }, record))).toEqual([]);
    }
    expect(record.requests).toEqual([]);
  });

  it('reads each set the client left out, and only those', async () => {
    const record = await start(PARKINSON, STEEP);
    const { prefetch, ...call } = orderCall();
    const { measures, conditions, ...sent } = prefetch;
    expect([measures, conditions]).not.toContain(undefined);
    const app = testApp({ fhirServers: [record.base], fhirBudgetMs: AMPLE_MS });
    const reply = await post(app, pathOfHook('order-sign'), {
      ...call,
      prefetch: sent,
      ...accessTo(record.base),
    });
    expect(rulesOf(cardsOf(reply))).toEqual(
      expect.arrayContaining(['cup-inclination-outside-published', 'neurological-disease']),
    );
    expect([...asked(record)].sort()).toEqual(['Condition', 'Observation']);
  });

  it('reads a set again that the client’s own query failed to bring, but not one that it found empty', async () => {
    const record = await start(PARKINSON);
    const failed = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'exception' }] };
    const { prefetch, ...call } = orderCall();
    const app = testApp({ fhirServers: [record.base], fhirBudgetMs: AMPLE_MS });
    const body = { ...call, ...accessTo(record.base) };
    const sent = { ...prefetch, conditions: failed, procedures: null };
    expect(rulesOf(cardsOf(await post(app, pathOfHook('order-sign'), { ...body, prefetch: sent })))).toEqual([
      'neurological-disease',
    ]);
    expect(asked(record)).toEqual(['Condition']);
  });
});

describe('the chart', () => {
  const PHASE_ONE = [
    'Appointment',
    'Condition',
    'Device',
    'Patient/patient-1',
    'Procedure',
    'ServiceRequest',
  ];
  const PHASE_TWO = [
    'DeviceRequest',
    'DeviceUseStatement',
    'Observation',
    'Observation',
    'QuestionnaireResponse',
  ];

  it('of somebody without a hip operation reads no more than it takes to know that', async () => {
    const record = await start(PARKINSON, STEEP);
    expect(cardsOf(await ask(chartCall(), record))).toEqual([]);
    expect([...asked(record)].sort()).toEqual(PHASE_ONE);
  });

  it('reads the rest once a hip operation is known', async () => {
    const record = await start(PARKINSON, ON_RECORD, STEEP);
    expect(rulesOf(cardsOf(await ask(chartCall(), record)))).toEqual(
      expect.arrayContaining(['cup-inclination-outside-published', 'neurological-disease']),
    );
    expect([...asked(record).slice(0, PHASE_ONE.length)].sort()).toEqual(PHASE_ONE);
    expect([...asked(record).slice(PHASE_ONE.length)].sort()).toEqual(PHASE_TWO);
  });

  it('is recognised by a booked hip visit, and then reads the rest', async () => {
    const visit = bookingCall({ status: 'booked', serviceType: [ORDER['code']] }).context[
      'appointments'
    ] as JsonObject;
    const [entry] = visit['entry'] as readonly { readonly resource: JsonObject }[];
    const record = await start(PARKINSON, ...(entry ? [entry.resource] : []));
    expect(rulesOf(cardsOf(await ask(chartCall(), record)))).toEqual(['neurological-disease']);
    expect([...asked(record).slice(PHASE_ONE.length)].sort()).toEqual(PHASE_TWO);
  });
});

const CALLS: Readonly<Record<string, HookCall>> = {
  'appointment-book': bookingCall({ serviceType: [ORDER['code']] }),
  'order-select': {
    ...orderCall({ context: { selections: ['ServiceRequest/order-1'] } }),
    hook: 'order-select',
  },
  'order-sign': orderCall(),
  'patient-view': chartCall(),
};

describe('a call that gives no leave to ask', () => {
  for (const [hook, call] of Object.entries(CALLS)) {
    it(`makes no outbound call at ${hook}`, async () => {
      const record = await start(PARKINSON, ON_RECORD, STEEP);
      const other = record.base.replace('127.0.0.1', 'localhost');
      const without: Readonly<Record<string, JsonObject>> = {
        'no authorization': { fhirServer: record.base },
        'an authorization that ran out': accessTo(record.base, { expiresIn: 0 }),
        'one that ran out long ago': accessTo(record.base, { expiresIn: -60 }),
        'a server that is not allow-listed': accessTo(other),
        'a path that is not allow-listed': accessTo(`${record.base}/tenant`),
        nothing: {},
      };
      for (const [what, access] of Object.entries(without)) {
        // Integration decisions section 2: at the chart nothing is known without one of three sets.
        const status = hook === 'patient-view' ? 412 : 200;
        expect((await ask(call, record, access)).status, what).toBe(status);
      }
      // A service that allow-lists nothing asks nobody.
      const { prefetch, ...bare } = call;
      expect(prefetch).toBeDefined();
      await post(testApp(), pathOfHook(hook), { ...bare, ...accessTo(record.base) });
      expect(record.requests).toEqual([]);
      // The same call with leave does ask, so that silence above means something.
      await ask(call, record);
      expect(record.requests.length).toBeGreaterThan(5);
    });
  }

  it('or whose scopes cover nothing makes none either', async () => {
    const record = await start(PARKINSON, ON_RECORD);
    const access = accessTo(record.base, { scope: 'launch openid patient/*.write patient/Coverage.read' });
    const cards = cardsOf(await ask(orderCall(), record, access));
    expect(rulesOf(cards)).toEqual(['data-gap']);
    expect(cards[0]?.detail).toContain('outside the granted scopes');
    expect(record.requests).toEqual([]);
  });
});

describe('a call about somebody else than its prefetch', () => {
  it('is refused and costs the record system nothing', async () => {
    const record = await start(PARKINSON, ON_RECORD);
    const app = testApp({ fhirServers: [record.base], fhirBudgetMs: AMPLE_MS });
    const prefetch = { patient: { ...PATIENT, id: 'patient-2' } };
    for (const call of Object.values(CALLS)) {
      const body = { ...call, prefetch, ...accessTo(record.base) };
      problem(await post(app, pathOfHook(call.hook), body), 400, ['patient-2']);
    }
    expect(record.requests).toEqual([]);
  });
});

describe('a user who is a patient or relative', () => {
  it('costs the record system nothing', async () => {
    const record = await start(PARKINSON, ON_RECORD, STEEP);
    for (const userId of ['Patient/patient-1', 'RelatedPerson/daughter-1'])
      for (const call of Object.values(CALLS))
        expect(cardsOf(await ask({ ...call, context: { ...call.context, userId } }, record))).toEqual([]);
    expect(record.requests).toEqual([]);
  });
});

const STRANGER = { reference: 'Patient/patient-2' };
const identity = (cards: readonly WireCard[]): readonly string[] =>
  cards.filter(({ indicator }) => indicator === 'critical').map((card) => card.source.topic.code);

/** A server that answers a question by the type it asks for, without looking whose resources they are. */
async function startMixedUp(answers: JsonObject): Promise<FhirServer> {
  const types: Readonly<Record<string, string>> = {
    Patient: 'patient',
    Condition: 'conditions',
    Procedure: 'procedures',
    Device: 'devices',
    DeviceUseStatement: 'deviceUses',
    ServiceRequest: 'serviceRequests',
    DeviceRequest: 'deviceRequests',
    QuestionnaireResponse: 'questionnaireResponses',
  };
  const listening = await listen(() => (request, response) => {
    const url = request.url ?? '';
    const type = /^\/fhir\/([A-Za-z]+)/.exec(url)?.[1] ?? '';
    const key =
      type === 'Observation' ? (url.includes('category=') ? 'measures' : 'observations') : types[type];
    const answer = answers[key ?? ''];
    if (answer === undefined) sendStatus(response, 404);
    else sendJson(response, answer);
  });
  return { ...listening, base: `${listening.origin}/fhir` };
}

describe('another patient’s resource that the record system gives out', () => {
  /** A server that finds what belongs to somebody else for this patient, as one with mixed-up records does. */
  async function mixedUp(key: string, resource: JsonObject): Promise<readonly WireCard[]> {
    const { prefetch, ...call } = orderCall();
    const record = await startMixedUp({ ...prefetch, [key]: searchset(resource) });
    server = record;
    const app = testApp({ fhirServers: [record.base], fhirBudgetMs: AMPLE_MS });
    return cardsOf(await post(app, pathOfHook('order-sign'), { ...call, ...accessTo(record.base) }));
  }

  const theirs: Readonly<Record<string, readonly [key: string, resource: JsonObject]>> = {
    'a measure': ['measures', { ...STEEP, subject: STRANGER }],
    'an order': ['serviceRequests', { ...ON_RECORD, id: 'their-order', subject: STRANGER }],
    'an implant order': [
      'deviceRequests',
      {
        resourceType: 'DeviceRequest',
        id: 'their-cup',
        status: 'active',
        intent: 'order',
        subject: STRANGER,
        codeCodeableConcept: concept(SNOMED, '304120007'),
      },
    ],
    'a plan': [
      'questionnaireResponses',
      {
        resourceType: 'QuestionnaireResponse',
        id: 'their-plan',
        status: 'completed',
        questionnaire: 'https://kotyle.example/fhir/Questionnaire/hip-plan',
        subject: STRANGER,
      },
    ],
  };
  for (const [what, [key, resource]] of Object.entries(theirs)) {
    it(`is dropped, and said when it is ${what}`, async () => {
      const cards = await mixedUp(key, resource);
      // Integration decisions section 3, same patient: dropped, counted, one critical identity card.
      expect(identity(cards)).toEqual(['other-patient-record']);
      expect(rulesOf(cards)).toEqual(['other-patient-record']);
    });
  }

  it('is dropped without a word when it is a diagnosis or a laboratory value', async () => {
    expect(await mixedUp('conditions', { ...PARKINSON, subject: STRANGER })).toEqual([]);
    const lab = {
      resourceType: 'Observation',
      id: 'crp',
      status: 'final',
      code: concept('http://loinc.org', '1988-5'),
    };
    expect(await mixedUp('observations', { ...lab, subject: STRANGER })).toEqual([]);
    // The same diagnosis of this patient does speak.
    expect(rulesOf(await mixedUp('conditions', PARKINSON))).toEqual(['neurological-disease']);
  });

  it('read by a reference of a booking is dropped and said', async () => {
    const record = await start(PARKINSON, { ...ON_RECORD, subject: STRANGER });
    const cards = cardsOf(
      await ask(bookingCall({ basedOn: [{ reference: 'ServiceRequest/order-1' }] }), record),
    );
    expect(identity(cards)).toEqual(['other-patient-record']);
  });

  it('in place of the patient refuses the call', async () => {
    const record = await startMixedUp({ patient: { ...PATIENT, id: 'patient-2' } });
    server = record;
    const issues = problem(await ask(orderCall(), record), 400, ['patient-2']);
    expect(issues[0]?.expression).toEqual(['prefetch.patient']);
  });
});
