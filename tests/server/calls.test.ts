import { describe, expect, it } from 'vitest';
import { NOW as PATIENTS_NOW, service, testPatient, testPatients } from '../advice/patients.js';
import type { ExpectedCard } from '../advice/patients.js';
import { each } from '../long-form.js';
import { checkRequest, checkResponse } from '../protocol/logical-model-check.js';
import {
  callFor,
  cardsOf,
  HOOK_INSTANCE,
  HOOKS,
  named,
  NOW,
  ORDER_PATH,
  orderCall,
  pathsOf,
  post,
  problem,
  rulesOf,
  testApp,
} from './test-service.js';

/** RFC 9562, sections 4 and 5.8: version 8, variant 10xx. */
const UUID_8 = /^[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

const app = testApp();
const demo = testPatient('demo-parkinson-steep-cup');

function sorted(cards: readonly ExpectedCard[]): readonly string[] {
  return cards.map(({ rule, hip, indicator }) => `${indicator} ${rule} ${hip}`).sort();
}

describe('every test patient, over HTTP', () => {
  for (const { name, bundle, expected } of testPatients()) {
    for (const hook of HOOKS.filter((each) => expected.cards[each])) {
      it(`${name} at ${hook}: a valid request, a valid answer, exactly the cards listed`, async () => {
        expect(expected.now.slice(0, 19)).toBe(NOW.slice(0, 19));
        const call = callFor(bundle, hook);
        // R2 to R7 and the context tables of section 4, by the published models.
        expect(checkRequest(call)).toEqual([]);
        const reply = await post(app, `/cds-services/${service(hook).id}`, call);
        const cards = cardsOf(reply);
        // C1 to C22, G4, G5 by the published models; G6.
        expect(checkResponse(JSON.parse(reply.text))).toEqual([]);
        expect(reply.headers['content-type']).toBe('application/json; charset=utf-8');
        // The test patient's own expectation.
        expect(sorted(named(cards))).toEqual(sorted(expected.cards[hook] ?? []));
        for (const card of cards) {
          // C3; integration decisions section 3.
          expect(card.uuid).toMatch(UUID_8);
          // Clinical decisions section 3; stricter than C4.
          expect(card.summary.length).toBeLessThanOrEqual(110);
        }
      });
    }
  }

  it('are asked on the day their expectations were written for', () => {
    expect(NOW).toBe(PATIENTS_NOW);
  });

  it('get a different id for every card of one answer, and for the same card of another call', async () => {
    const uuids: string[] = [];
    let cardCount = 0;
    for (const { bundle, expected } of testPatients()) {
      for (const hook of HOOKS.filter((each) => expected.cards[each])) {
        const answer = cardsOf(await post(app, `/cds-services/${service(hook).id}`, callFor(bundle, hook)));
        // C3: the id is what feedback refers to, so two cards of one answer never share it.
        expect(new Set(answer.map(({ uuid }) => uuid)).size).toBe(answer.length);
        cardCount += answer.length;
      }
    }
    expect(cardCount).toBeGreaterThan(20);
    for (const instance of [HOOK_INSTANCE, HOOK_INSTANCE.replace('3f2b', '4f2b')]) {
      const call = { ...callFor(demo.bundle, 'order-sign'), hookInstance: instance };
      uuids.push(...cardsOf(await post(app, ORDER_PATH, call)).map(({ uuid }) => uuid));
    }
    // R11: derived from the hook instance, so that a new call is not mistaken for a retry.
    expect(new Set(uuids).size).toBe(uuids.length);
  });

  it('never read the same sentence twice in what was found', async () => {
    // Clinical decisions section 3: a card is read in ten seconds.
    for (const { name, bundle, expected } of testPatients()) {
      for (const hook of HOOKS.filter((each) => expected.cards[each])) {
        for (const { detail } of cardsOf(
          await post(app, `/cds-services/${service(hook).id}`, callFor(bundle, hook)),
        )) {
          const found = (/\*\*Found\*\* (.*)\.\n/.exec(detail)?.[1] ?? '').split('; ');
          expect([...new Set(found)], `${name} at ${hook}`).toEqual(found);
        }
      }
    }
  });
});

describe('the same request', () => {
  it('gives the same bytes twice, and from a second instance', async () => {
    // R11, and style: no clock, chance, disk or network below the call.
    for (const { bundle, expected } of each(3, testPatients())) {
      for (const hook of HOOKS.filter((one) => expected.cards[one])) {
        const path = `/cds-services/${service(hook).id}`;
        const call = callFor(bundle, hook);
        const first = await post(app, path, call);
        expect((await post(app, path, call)).text).toBe(first.text);
        expect((await post(testApp(), path, call)).text).toBe(first.text);
      }
    }
  });

  it('gives the same cards with the hook instance in upper case', async () => {
    const call = callFor(demo.bundle, 'order-sign');
    const shouted = await post(app, ORDER_PATH, { ...call, hookInstance: HOOK_INSTANCE.toUpperCase() });
    // RFC 9562, section 4: a UUID is read without regard to case.
    expect(shouted.text).toBe((await post(app, ORDER_PATH, call)).text);
  });
});

describe('what a client adds', () => {
  const call = callFor(demo.bundle, 'order-sign');
  const additions: Readonly<Record<string, object>> = {
    // H10: unknown extra context fields are tolerated.
    'a context field nobody knows': { ...call, context: { ...call.context, department: 'Surgery 2' } },
    // R9.
    'a top-level member of an older version': { ...call, user: 'Practitioner/x' },
    // R8, T2.
    'an extension': { ...call, extension: { 'com.example.client': { build: 7 } } },
    // P12: a key not asked for is not looked at.
    'a prefetch key not asked for': {
      ...call,
      prefetch: { ...call.prefetch, allergies: { resourceType: 'Bundle', type: 'searchset' } },
    },
    // F1: may call, need not.
    'a FHIR server and a token': {
      ...call,
      fhirServer: 'https://record.example/fhir',
      fhirAuthorization: {
        access_token: 'opaque',
        token_type: 'Bearer',
        expires_in: 300,
        scope: 'user/Observation.read',
        subject: 'kotyle',
      },
    },
  };
  for (const [what, body] of Object.entries(additions)) {
    it(`changes nothing: ${what}`, async () => {
      expect((await post(app, ORDER_PATH, body)).text).toBe((await post(app, ORDER_PATH, call)).text);
    });
  }

  it('changes nothing: an Observation of another hip service under a key of its own', async () => {
    const foreign = {
      ...call,
      prefetch: { ...call.prefetch, plan: { resourceType: 'Observation', status: 'final' } },
    };
    // P12.
    expect((await post(app, ORDER_PATH, foreign)).text).toBe((await post(app, ORDER_PATH, call)).text);
  });
});

describe('a Bundle in the context', () => {
  it('is read with and without type and full URLs', async () => {
    // H3: published examples leave both out.
    const call = callFor(demo.bundle, 'order-sign');
    const { draftOrders } = call.context as {
      readonly draftOrders: { readonly entry: readonly { resource: object }[] };
    };
    const bare = {
      resourceType: 'Bundle',
      entry: draftOrders.entry.map(({ resource }) => ({ resource })),
    };
    const reply = await post(app, ORDER_PATH, { ...call, context: { ...call.context, draftOrders: bare } });
    expect(named(cardsOf(reply))).toEqual(named(cardsOf(await post(app, ORDER_PATH, call))));
  });

  it('is read when its draft order has no id', async () => {
    // Traps, 12: draft orders often have none. The plan is then tied by nothing, but still this hip's.
    const call = callFor(demo.bundle, 'order-sign');
    const { draftOrders } = call.context as {
      readonly draftOrders: { readonly entry: readonly { resource: object }[] };
    };
    const nameless = {
      resourceType: 'Bundle',
      type: 'collection',
      entry: draftOrders.entry.map(({ resource }) => ({ resource: { ...resource, id: undefined } })),
    };
    const cards = cardsOf(
      await post(app, ORDER_PATH, { ...call, context: { ...call.context, draftOrders: nameless } }),
    );
    expect(sorted(named(cards))).toEqual(sorted(demo.expected.cards['order-sign'] ?? []));
  });
});

describe('leniency', () => {
  const call = callFor(demo.bundle, 'order-sign');
  const prefixed = {
    ...call,
    context: { ...call.context, patientId: 'Patient/demo-parkinson-steep-cup' },
  };
  const oldUuid = { ...call, hookInstance: '00000000-0000-0000-0000-0000000000ff' };

  it('takes a patient id sent as a reference, unless strict', async () => {
    // Traps, 4; integration decisions section 3.
    expect((await post(app, ORDER_PATH, prefixed)).text).toBe((await post(app, ORDER_PATH, call)).text);
    const refused = problem(await post(testApp({ strict: true }), ORDER_PATH, prefixed), 400, [
      'demo-parkinson-steep-cup',
    ]);
    expect(pathsOf(refused)).toEqual(['context.patientId']);
  });

  it('takes a hook instance of any 8-4-4-4-12 hex digits, unless strict', async () => {
    // R3; integration decisions section 3.
    expect(rulesOf(cardsOf(await post(app, ORDER_PATH, oldUuid)))).toEqual(
      rulesOf(cardsOf(await post(app, ORDER_PATH, call))),
    );
    const refused = problem(await post(testApp({ strict: true }), ORDER_PATH, oldUuid), 400);
    expect(pathsOf(refused)).toEqual(['hookInstance']);
  });

  it('is not needed by a conformant request: strict answers it alike', async () => {
    const strict = await post(testApp({ strict: true }), ORDER_PATH, call);
    expect(strict.text).toBe((await post(app, ORDER_PATH, call)).text);
  });
});

describe('references to the patient', () => {
  const fhirServer = 'https://record.example/fhir';
  const forms: Readonly<Record<string, object>> = {
    'with the base of the calling server': { fhirServer, reference: `${fhirServer}/Patient/patient-1` },
    'with that base and a slash too many': {
      fhirServer: `${fhirServer}/`,
      reference: `${fhirServer}/Patient/patient-1`,
    },
    'with a version': { reference: 'Patient/patient-1/_history/4' },
  };
  for (const [how, form] of Object.entries(forms)) {
    it(`${how} are this patient's`, async () => {
      const { fhirServer: server, reference } = form as { fhirServer?: string; reference: string };
      const subject = { reference };
      const body = orderCall();
      const swap = (value: unknown): unknown =>
        JSON.parse(
          JSON.stringify(value).replaceAll('{"reference":"Patient/patient-1"}', JSON.stringify(subject)),
        );
      const cards = cardsOf(
        await post(app, ORDER_PATH, {
          ...body,
          ...(server !== undefined && { fhirServer: server }),
          context: swap(body.context),
          prefetch: swap(body.prefetch),
        }),
      );
      // Integration decisions section 3, same patient: nothing to say about a textbook hip.
      expect(rulesOf(cards)).toEqual([]);
    });
  }

  it('with the base of another server are another patient, and that is critical', async () => {
    const order = orderCall().context['draftOrders'] as { entry: { resource: object }[] };
    const foreign = order.entry.map(({ resource }) => ({
      resource: { ...resource, subject: { reference: 'https://elsewhere.example/fhir/Patient/patient-1' } },
    }));
    const cards = cardsOf(
      await post(app, ORDER_PATH, {
        ...orderCall({ context: { draftOrders: { resourceType: 'Bundle', entry: foreign } } }),
        fhirServer,
      }),
    );
    // Integration decisions section 3: other base, dropped, one critical identity card.
    expect(named(cards).map(({ rule, indicator }) => `${indicator} ${rule}`)).toEqual([
      'critical other-patient-record',
    ]);
  });
});
