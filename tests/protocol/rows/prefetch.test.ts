import request from 'supertest';
import { afterEach, describe, expect, it } from 'vitest';
import type { JsonObject } from '../../../src/fhir/json.js';
import { startFhirServer } from '../../fhir-server/fhir-server.js';
import type { FhirServer } from '../../fhir-server/fhir-server.js';
import { AMPLE_MS } from '../../server/fallback/records.js';
import { accessTo } from '../../server/record-calls.js';
import {
  BOOKING_PATH,
  cardsOf,
  ORDER_PATH,
  orderCall,
  ORDER,
  PATIENT,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  testApp,
} from '../../server/test-service.js';
import type { HookCall, Reply } from '../../server/test-service.js';
import { CHART_PATH, chartCall, SUBJECT } from '../../server/hook-calls.js';
import { templateIssues } from '../template-rules.js';
import { SPEAKING, speakingCall, STEEP_PLAN } from './answers.js';
import { loggedCall } from './call-log.js';

const app = testApp();
const [, SIGNED] = speakingCall('order-sign');

let server: FhirServer | undefined;
afterEach(async () => {
  await server?.stop();
  server = undefined;
});

async function templates(): Promise<readonly (readonly [hook: string, key: string, template: string])[]> {
  const { text } = (await request(app).get('/cds-services')) as Reply;
  const { services } = JSON.parse(text) as {
    readonly services: readonly {
      readonly hook: string;
      readonly prefetch: Readonly<Record<string, string>>;
    }[];
  };
  return services.flatMap(({ hook, prefetch }) =>
    Object.entries(prefetch).map(([key, one]) => [hook, key, one] as const),
  );
}

function withSet(key: string, value: unknown): HookCall {
  return { ...SIGNED, prefetch: { ...SIGNED.prefetch, [key]: value } };
}

function withoutSet(key: string): HookCall {
  return {
    ...SIGNED,
    prefetch: Object.fromEntries(Object.entries(SIGNED.prefetch).filter(([name]) => name !== key)),
  };
}

async function rulesFor(call: object): Promise<readonly string[]> {
  return rulesOf(cardsOf(await post(app, ORDER_PATH, call)));
}

const PARKINSON = (
  SIGNED.prefetch['conditions'] as { readonly entry: readonly [{ readonly resource: JsonObject }] }
).entry[0].resource;

describe('the templates', () => {
  it('[P1] are reads or searches of one R4 type, relative to the base', async () => {
    for (const [hook, key, template] of await templates())
      expect(template, `${hook} ${key}`).toMatch(
        /^[A-Z][A-Za-z]+(?:\/\{\{[^}]+\}\}|\?[a-z-]+=[^&\s]+(?:&[a-z-]+=[^&\s]+)*)$/,
      );
  });

  it('[P2] put each token between two pairs of braces, and use braces for nothing else', async () => {
    for (const [, , template] of await templates()) {
      expect(template).toMatch(/\{\{[A-Za-z.]+\}\}/);
      expect(template.replaceAll(/\{\{[A-Za-z.]+\}\}/g, '')).not.toMatch(/[{}]/);
    }
  });

  it('[P3] use the patient, the encounter and the role of the user as tokens, and nothing deeper', async () => {
    const tokens = (await templates()).flatMap(([, , template]) => template.match(/\{\{.*?\}\}/g) ?? []);
    expect([...new Set(tokens)].sort()).toEqual([
      '{{context.encounterId}}',
      '{{context.patientId}}',
      '{{userPractitionerRoleId}}',
    ]);
  });

  it('[P5] depend on nothing that another key brings', async () => {
    for (const [, , template] of await templates()) expect(template).not.toContain('%');
  });

  it('[P6] are searches by parameters R4 defines, as references, tokens and dates, without chain or modifier', async () => {
    for (const [hook, key, template] of await templates())
      expect(templateIssues(template, hook), `${hook} ${key}`).toEqual([]);
    const wrong = [
      'Condition?patient={{context.patientId}}&_include=x',
      'Condition?patient.name=x',
      'Condition?code:text=hip',
      'Procedure?patient={{context.patientId}}&body-site=x',
      'DeviceUseStatement?patient={{context.patientId}}&status=active',
      'Nothing?patient={{context.patientId}}',
      'Patient?name=x',
      'Condition?patient={{context.draftOrders}}',
      'Condition?patient={{patient}',
      'Condition',
      'https://record.example/Condition?patient={{context.patientId}}',
    ];
    for (const template of wrong) expect(templateIssues(template, 'order-sign'), template).not.toEqual([]);
  });
});

describe('what prefetch did not bring', () => {
  it('[P8] is fetched for whichever key is missing, and makes the answer that of the whole prefetch', async () => {
    server = await startFhirServer([PATIENT, PARKINSON, ...STEEP_PLAN]);
    const service = testApp({ fhirServers: [server.base], fhirBudgetMs: AMPLE_MS });
    const whole = await rulesFor(SIGNED);
    expect(whole.length).toBeGreaterThan(1);
    for (const key of Object.keys(SIGNED.prefetch)) {
      const cards = cardsOf(
        await post(service, ORDER_PATH, { ...withoutSet(key), ...accessTo(server.base) }),
      );
      expect(rulesOf(cards), key).toEqual(whole);
    }
  });

  it('[P8] is said to be missing where nobody may be asked and it could have mattered', async () => {
    expect(await rulesFor(withoutSet('measures'))).toContain('data-gap');
    expect(await rulesFor(SIGNED)).not.toContain('data-gap');
  });

  it('[P10] is missing when the key is absent, and known to be none by null or an empty Bundle', async () => {
    const quiet = orderCall();
    const states: readonly (readonly [unknown, boolean])[] = [
      [undefined, true],
      [null, false],
      [searchset(), false],
      [{ resourceType: 'Bundle', type: 'searchset', total: 0 }, false],
    ];
    for (const [value, isMissing] of states) {
      const call = { ...quiet, prefetch: { ...quiet.prefetch, conditions: value } };
      expect((await rulesFor(call)).includes('data-gap'), JSON.stringify(value)).toBe(isMissing);
    }
  });

  it('[P11] is missing too when the query failed, and not when a warning stands beside matches', async () => {
    const outcome = (severity: string): JsonObject => ({
      resourceType: 'OperationOutcome',
      issue: [{ severity, code: 'processing' }],
    });
    for (const failed of [outcome('error'), outcome('fatal'), searchset(outcome('error'))]) {
      const cards = cardsOf(await post(app, ORDER_PATH, withSet('conditions', failed)));
      const gap = cards.find(({ source }) => source.topic.code === 'data-gap');
      expect(gap?.detail).toContain('the query failed');
    }
    expect(await rulesFor(withSet('conditions', searchset(PARKINSON, outcome('warning'))))).toEqual(
      await rulesFor(SIGNED),
    );
  });

  it('[P12] is not made up for by other keys: they are passed over and counted', async () => {
    const more = withSet('otherConditions', searchset({ ...PARKINSON, id: 'other' }));
    const { reply, leniencies } = await loggedCall(ORDER_PATH, more);
    expect(reply.text).toBe((await post(app, ORDER_PATH, SIGNED)).text);
    expect(leniencies).toEqual(['prefetch key that was not asked for']);
  });

  it('[P13] may be nothing, a part or everything: each is answered', async () => {
    const keys = Object.keys(SIGNED.prefetch);
    for (let count = 0; count <= keys.length; count += 1) {
      const prefetch = Object.fromEntries(Object.entries(SIGNED.prefetch).slice(0, count));
      expect((await post(app, ORDER_PATH, { ...SIGNED, prefetch })).status, String(count)).toBe(200);
    }
  });

  it('[P14] is not brought by what is no resource, or is wrapped as before 1.0: that counts as absent and is named', async () => {
    const wrapped = { response: { status: '200 OK' }, resource: searchset(PARKINSON) };
    for (const value of [wrapped, {}, [], [PARKINSON], 'x', 7, { entry: [{ resource: PARKINSON }] }]) {
      const reply = await post(app, ORDER_PATH, withSet('conditions', value));
      const gap = cardsOf(reply).find(({ source }) => source.topic.code === 'data-gap');
      expect(gap?.detail, JSON.stringify(value)).toMatch(/not a FHIR resource/);
    }
  });

  it('[P15] of a set with a next page is read on from the same server, and from no other', async () => {
    server = await startFhirServer([PATIENT, PARKINSON]);
    const service = testApp({ fhirServers: [server.base], fhirBudgetMs: AMPLE_MS });
    const paged = (url: string): HookCall =>
      withSet('conditions', { ...searchset(), link: [{ relation: 'next', url }] });
    const ask = async (url: string): Promise<readonly string[]> =>
      rulesOf(cardsOf(await post(service, ORDER_PATH, { ...paged(url), ...accessTo(server?.base ?? '') })));
    expect(await ask(`${server.base}/Condition?patient=patient-1`)).toEqual(await rulesFor(SIGNED));
    const stranger = await startFhirServer([PATIENT, PARKINSON]);
    try {
      expect(await ask(`${stranger.base}/Condition?patient=patient-1`)).toContain('data-gap');
      expect(stranger.requests).toEqual([]);
    } finally {
      await stranger.stop();
    }
  });

  it('[P16] is not brought by another patient’s resources: a plan of another is critical', async () => {
    const theirs = planned('cup-inclination', 70, 'deg', {
      id: 'theirs',
      subject: { reference: 'Patient/other' },
    });
    const rules = await rulesFor({
      ...orderCall(),
      prefetch: { ...orderCall().prefetch, measures: searchset(theirs) },
    });
    expect(rules).toContain('other-patient-record');
    const condition = { ...PARKINSON, subject: { reference: 'Patient/other' } };
    expect(await rulesFor(withSet('conditions', searchset(condition)))).not.toContain('neurological-disease');
  });

  it('[P17] is not brought by what was entered in error or refuted', async () => {
    const system = 'http://terminology.hl7.org/CodeSystem/condition-ver-status';
    expect(await rulesFor(SIGNED)).toContain('neurological-disease');
    for (const code of ['entered-in-error', 'refuted']) {
      const condition = { ...PARKINSON, verificationStatus: { coding: [{ system, code }] } };
      expect(await rulesFor(withSet('conditions', searchset(condition))), code).not.toContain(
        'neurological-disease',
      );
    }
    const withdrawn = STEEP_PLAN.map((measure) => ({ ...measure, status: 'entered-in-error' }));
    expect(await rulesFor(withSet('measures', searchset(...withdrawn)))).not.toContain(
      'cup-inclination-outside-published',
    );
    const order = {
      ...orderCall({ orders: [{ ...ORDER, status: 'entered-in-error' }], measures: STEEP_PLAN }),
    };
    expect(await rulesFor(order)).toEqual([]);
  });

  it('[P9, E2] that nothing can be told without is 412 at booking and chart, and never at an order', async () => {
    const visit = {
      resourceType: 'Appointment',
      id: 'v',
      status: 'proposed',
      basedOn: [{ reference: 'ServiceRequest/x' }],
      participant: [{ actor: SUBJECT, status: 'accepted' }],
    };
    const [, booking] = speakingCall('appointment-book');
    const bare = {
      ...booking,
      prefetch: {},
      context: { ...booking.context, appointments: searchset(visit) },
    };
    expect(problem(await post(app, BOOKING_PATH, bare), 412)[0]?.code).toBe('incomplete');
    problem(await post(app, CHART_PATH, { ...chartCall(), prefetch: {} }), 412);
    for (const hook of ['order-select', 'order-sign']) {
      const [path, call] = speakingCall(hook);
      expect((await post(app, path, { ...call, prefetch: {} })).status).toBe(200);
    }
    expect(Object.keys(SPEAKING)).toHaveLength(4);
  });
});
