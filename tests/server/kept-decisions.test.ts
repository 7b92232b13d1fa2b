import { createHash, createHmac } from 'node:crypto';
import { pino } from 'pino';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord, Store } from '../../src/store/store.js';
import { rulebook, service, testPatients } from '../advice/patients.js';
import { siteOf } from '../facts/sites.js';
import { MARKER } from './marked-calls.js';
import { pathOfHook } from './record-calls.js';
import {
  bookingCall,
  callFor,
  cardsOf,
  NOW,
  ORDER,
  orderCall,
  planned,
  post,
  problem,
  rulesOf,
  searchset,
  TEST_KEY,
  testApp,
} from './test-service.js';
import type { AppSettings, HookCall, WireCard } from './test-service.js';

const HOOKS = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;
const KEY_BYTES = Buffer.alloc(32, 7);

const concept = (system: string, code: string): JsonObject => ({ coding: [{ system, code }] });
const PARKINSON: JsonObject = {
  resourceType: 'Condition',
  id: 'parkinson',
  meta: { versionId: '3', lastUpdated: '2026-11-20T08:00:00Z' },
  subject: { reference: 'Patient/patient-1' },
  clinicalStatus: concept('http://terminology.hl7.org/CodeSystem/condition-clinical', 'active'),
  verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'confirmed'),
  code: concept('http://hl7.org/fhir/sid/icd-10-cm', 'G20.A1'),
};
const STEEP = { ...planned('cup-inclination', 64, 'deg'), id: 'steep' };

interface Watched {
  readonly store: Store;
  /** Decisions in the order in which they were kept. */
  readonly kept: readonly DecisionRecord[];
}

async function watched(path = ':memory:'): Promise<Watched> {
  const store = await openStore({ path, contentKey: TEST_KEY });
  const kept: DecisionRecord[] = [];
  const saveDecision = async (record: DecisionRecord): Promise<void> => {
    await store.saveDecision(record);
    const read = await store.decision(record.id);
    if (read) kept.push(read);
  };
  return { store: { ...store, saveDecision }, kept };
}

interface Asked extends Watched {
  readonly cards: readonly WireCard[];
  readonly decision: DecisionRecord;
}

/** An answer and its record, read back from the store; the answer waits for it. */
async function ask(call: HookCall, into?: Watched, settings: AppSettings = {}): Promise<Asked> {
  const { store, kept } = into ?? (await watched());
  const before = kept.length;
  const app = testApp({ store, audit: 'required', ...settings });
  const cards = cardsOf(await post(app, pathOfHook(call.hook), call));
  const decision = kept[before];
  if (!decision) throw new Error('expected a decision');
  return { store, kept, cards, decision };
}

function instance(number: number): string {
  return `3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f${String(number).padStart(4, '0')}`;
}

// Truth throughout, where nothing else is named: integration decisions section 5, "Record".
describe('the record of an answer', () => {
  it('says what was asked, under which rulebook, what every rule said and what was shown', async () => {
    const call = orderCall({ measures: [STEEP], prefetch: { conditions: searchset(PARKINSON) } });
    const { cards, decision } = await ask(call);
    expect(decision).toMatchObject({
      at: NOW,
      iss: '-',
      service: 'hip-stability-order',
      hook: 'order-sign',
      hookInstance: call.hookInstance,
      engine: '0.1.0',
      rulebook: { version: rulebook.about.version, hash: rulebook.hash },
      recognised: 'yes',
      leniencies: [],
    });
    // The id is that of the evaluation the cards name.
    for (const card of cards)
      expect(card.extension['example.kotyle.advisory']['evaluation']).toBe(decision.id);
    // One outcome for every rule of the rulebook and the one hip.
    expect(decision.outcomes.map(({ rule }) => rule).sort()).toEqual(
      rulebook.rules.map(({ id }) => id).sort(),
    );
    expect(new Set(decision.outcomes.map(({ hip, construct }) => `${hip} ${construct}`))).toEqual(
      new Set(['left planned']),
    );
    expect(rulesOf(cards)).toEqual(expect.arrayContaining(['neurological-disease']));
    const shown = decision.outcomes.filter((outcome) => outcome.shown).map(({ rule }) => rule);
    expect(shown.sort()).toEqual([...rulesOf(cards)].sort());
    expect(decision.cards).toEqual(
      cards.map((card) => {
        const advisory = card.extension['example.kotyle.advisory'];
        return {
          uuid: card.uuid,
          rule: card.source.topic.code,
          indicator: card.indicator,
          hip: 'left',
          construct: 'planned',
          acknowledgement: advisory['acknowledgement'],
        };
      }),
    );
    for (const { acknowledgement } of decision.cards)
      expect(acknowledgement).toMatch(/^sha256-[0-9a-f]{64}$/);
    // How each published set arrived; a key whose token cannot be resolved is left out by the client.
    expect(decision.sets.map(({ key }) => key).sort()).toEqual([...service('order-sign').keys].sort());
    expect(decision.sets).toContainEqual({ key: 'conditions', status: 'complete', count: 1 });
    expect(decision.sets).toContainEqual({ key: 'procedures', status: 'complete', count: 0 });
  });

  it('names its inputs by a digest that only the key and the resource can repeat', async () => {
    const theirs = { ...PARKINSON, id: 'theirs', subject: { reference: 'Patient/patient-2' } };
    const call = orderCall({ measures: [STEEP], prefetch: { conditions: searchset(PARKINSON, theirs) } });
    const { decision } = await ask(call);
    const types = decision.inputs.map(({ type }) => type).sort();
    // The order, the patient, the plan and one diagnosis; somebody else's is dropped before it is read.
    expect(types).toEqual(['Condition', 'Observation', 'Patient', 'ServiceRequest']);
    const condition = decision.inputs.find(({ type }) => type === 'Condition');
    expect(condition).toEqual({
      // RFC 2104 over domain and salt, then the canonical form (RFC 8785) of the resource and its name.
      digest: createHmac('sha256', TEST_KEY)
        .update(canonicalJson(['input', decision.salt]))
        .update(canonicalJson(['Condition/parkinson', PARKINSON]))
        .digest('hex'),
      type: 'Condition',
      versionId: '3',
      lastUpdated: '2026-11-20T08:00:00Z',
      used: true,
    });
    const plain = createHash('sha256').update(canonicalJson(PARKINSON)).digest('hex');
    expect(JSON.stringify(decision)).not.toContain(plain);
  });

  it('says of an input that was not used why', async () => {
    const unreadable = { ...STEEP, status: 'entered-in-error' };
    const { decision } = await ask(orderCall({ measures: [unreadable] }));
    const plan = decision.inputs.find(({ type }) => type === 'Observation');
    expect(plan?.used).toBe(false);
    expect(plan?.why).toMatch(/\S/);
  });

  it('gives one resource another digest in every decision, and one patient the same name', async () => {
    const into = await watched();
    const call = orderCall({ prefetch: { conditions: searchset(PARKINSON) } });
    for (const number of [1, 2]) await ask({ ...call, hookInstance: instance(number) }, into);
    const [first, second] = into.kept;
    expect(first?.salt).not.toBe(second?.salt);
    const digests = into.kept.flatMap(({ inputs }) => inputs.map(({ digest }) => digest));
    expect(digests.length).toBeGreaterThan(4);
    expect(new Set(digests).size).toBe(digests.length);
    // Patient and user as HMAC under KOTYLE_PSEUDONYM_KEY.
    expect([first?.patient, first?.user]).toEqual([second?.patient, second?.user]);
    expect(first?.patient).toBe(
      createHmac('sha256', KEY_BYTES).update('["patient","-",null,"patient-1"]', 'utf8').digest('hex'),
    );
    const colleague = { ...call, context: { ...call.context, userId: 'Practitioner/other' } };
    const { decision } = await ask({ ...colleague, hookInstance: instance(3) }, into);
    expect(decision.patient).toBe(first?.patient);
    expect(decision.user).not.toBe(first?.user);
  });

  it('knows one finding of a repeated call as one', async () => {
    const into = await watched();
    const call = orderCall({ prefetch: { conditions: searchset(PARKINSON) } });
    await ask(call, into);
    cardsOf(await post(testApp({ store: into.store, audit: 'required' }), pathOfHook('order-sign'), call));
    const counts = (await into.store.countsByRule()).find(({ rule }) => rule === 'neurological-disease');
    // Integration decisions section 3: the idempotence key is (iss, id, hook, hookInstance).
    expect(counts).toMatchObject({
      rule: 'neurological-disease',
      fired: 1,
      shown: 1,
      answered: 0,
      silent: 1,
    });
  });

  it('is kept of a call that is about something else, and says so', async () => {
    const knee = { ...ORDER, code: concept('http://snomed.info/sct', '609588000'), bodySite: [] };
    const calls = [
      orderCall({ orders: [knee] }),
      bookingCall({ serviceType: [concept('http://snomed.info/sct', '310249008')] }),
    ];
    for (const call of calls) {
      const { cards, decision } = await ask(call);
      expect(cards).toEqual([]);
      expect(decision).toMatchObject({ recognised: 'no', outcomes: [], cards: [] });
    }
  });

  it('is not kept where there was no advice: of a refused call, one nobody could decide, or one of a patient’s own', async () => {
    const { store, kept } = await watched();
    const app = testApp({ store, audit: 'required' });
    const order = orderCall();
    await post(app, pathOfHook('order-sign'), { ...order, hookInstance: 'none' });
    const { prefetch, ...named } = bookingCall({ basedOn: [{ reference: 'ServiceRequest/never' }] });
    expect(prefetch).toBeDefined();
    problem(await post(app, pathOfHook('appointment-book'), named), 412);
    const own = { ...order, context: { ...order.context, userId: 'Patient/patient-1' } };
    expect(cardsOf(await post(app, pathOfHook('order-sign'), own))).toEqual([]);
    expect(kept).toEqual([]);
  });

  it('still holds a finding whose card was answered before, as not shown', async () => {
    const into = await watched();
    const call = orderCall({ prefetch: { conditions: searchset(PARKINSON) } });
    const { cards } = await ask(call, into);
    expect(rulesOf(cards)).toEqual(['neurological-disease']);
    const answer = { card: cards[0]?.uuid, outcome: 'overridden', outcomeTimestamp: NOW };
    const app = testApp({ store: into.store });
    const reply = await post(app, `${pathOfHook('order-sign')}/feedback`, { feedback: [answer] });
    expect(reply.status).toBe(200);
    const again = await ask({ ...call, hookInstance: instance(1) }, into);
    expect(again.cards).toEqual([]);
    // Clinical decisions section 1: acknowledged stays quiet; the finding is recorded all the same.
    const isNervous = ({ rule }: { readonly rule: string }): boolean => rule === 'neurological-disease';
    expect(again.decision.outcomes.filter(isNervous)).toMatchObject([{ outcome: 'fires', shown: false }]);
    const counts = (await into.store.countsByRule()).find(isNervous);
    expect(counts).toMatchObject({ fired: 2, notShown: 1, shown: 1, answered: 1, overridden: 1 });
  });
});

describe('shown or not', () => {
  it('stands with every finding of every test patient: shown with a card, or kept back and counted', async () => {
    let keptBack = 0;
    const ceiling = Object.fromEntries(HOOKS.map((hook) => [hook, 1]));
    const site = siteOf([{ path: 'site.json', content: { id: 'one-card', version: '1', ceiling } }]);
    for (const { name, bundle, expected } of testPatients()) {
      for (const hook of HOOKS.filter((each) => expected.cards[each])) {
        const { cards, decision } = await ask(callFor(bundle, hook), undefined, { installation: site });
        const where = `${name} ${hook}`;
        const shown = decision.outcomes.filter((outcome) => outcome.shown);
        for (const { outcome } of shown) expect(outcome, where).toBe('fires');
        const own = cards.filter(({ extension }) => 'hip' in extension['example.kotyle.advisory']);
        expect(new Set(shown.map(({ rule }) => rule)), where).toEqual(new Set(rulesOf(own)));
        const speaking = new Set(
          rulebook.rules
            .filter(({ entries, tells }) => entries.includes(hook) && tells === undefined)
            .map(({ id }) => id),
        );
        const beside = new Set(
          rulebook.rules.filter(({ yieldsTo = [] }) => yieldsTo.length > 0).map(({ id }) => id),
        );
        const back = decision.outcomes.filter(
          ({ outcome, shown: isShown, rule }) => outcome === 'fires' && !isShown && speaking.has(rule),
        );
        // A card that leaves the word to another is named on that one, whether it is shown or kept back itself.
        const plain = back.filter(({ rule }) => !beside.has(rule));
        keptBack += plain.length;
        const more = cards.filter((card) => card.source.topic.code === 'more-advisories');
        // Integration decisions section 3: what the ceiling leaves out is named by one card.
        expect(more.length, where).toBeGreaterThanOrEqual(plain.length > 0 ? 1 : 0);
        expect(more.length, where).toBeLessThanOrEqual(back.length > 0 ? 1 : 0);
        const named = (more[0]?.extension['example.kotyle.advisory']['rules'] ?? []) as readonly string[];
        expect(named, where).toEqual(expect.arrayContaining(plain.map(({ rule }) => rule)));
        for (const rule of named)
          expect(
            back.map((one) => one.rule),
            where,
          ).toContain(rule);
      }
    }
    // So that something was kept back at all.
    expect(keptBack).toBeGreaterThan(0);
  }, 120_000);
});

describe('why an input was not used', () => {
  it('is kept without a word of what the resource says', async () => {
    const strange = { ...STEEP, code: concept('https://kotyle.example/fhir/CodeSystem/hip-measure', MARKER) };
    const device = {
      resourceType: 'Device',
      id: 'cup',
      status: MARKER,
      patient: { reference: 'Patient/patient-1' },
      type: concept('http://snomed.info/sct', '304120007'),
    };
    const plan = {
      resourceType: 'QuestionnaireResponse',
      id: 'plan',
      status: MARKER,
      questionnaire: 'https://kotyle.example/fhir/Questionnaire/hip-plan',
      subject: { reference: 'Patient/patient-1' },
    };
    const impossible = planned('cup-anteversion', 20, 'deg', {
      valueString: MARKER,
      valueQuantity: undefined,
    });
    const future = { ...STEEP, id: 'future', effectiveDateTime: '2077-07-07' };
    const call = orderCall({
      measures: [strange, impossible, future],
      prefetch: { devices: searchset(device), questionnaireResponses: searchset(plan) },
    });
    const { decision } = await ask(call);
    const whys = decision.inputs.map(({ why }) => why).filter((why) => why !== undefined);
    expect(whys).toHaveLength(5);
    expect(whys.join(' ')).not.toMatch(new RegExp(`${MARKER}|2077`));
  });
});

describe('a store that fails', () => {
  const SECRET = 'Zqxmarker';
  const failing = (): Promise<never> => Promise.reject(new Error(`no room for ${SECRET}`));

  function appWith(
    audit: 'best-effort' | 'required',
    broken: Partial<Store>,
  ): { readonly lines: string[]; readonly app: ReturnType<typeof testApp> } {
    const lines: string[] = [];
    const log = pino({ level: 'trace' }, { write: (text: string) => lines.push(text) });
    const store: Partial<Store> = {
      saveDecision: failing,
      saveFeedback: failing,
      decision: failing,
      answersTo: failing,
      acknowledgedBy: () => Promise.resolve([]),
      countsByRule: failing,
      unmappedTotals: failing,
      close: () => Promise.resolve(),
      ...broken,
    };
    return { lines, app: testApp({ store: store as Store, log, audit }) };
  }
  const call = orderCall({ prefetch: { conditions: searchset(PARKINSON) } });

  for (const hook of HOOKS) {
    const hooked: HookCall =
      hook === 'appointment-book'
        ? bookingCall({ serviceType: [ORDER['code']] }, { conditions: searchset(PARKINSON) })
        : {
            ...call,
            hook,
            context: { ...call.context, selections: ['ServiceRequest/order-1'] },
            prefetch: {
              ...call.prefetch,
              serviceRequests: searchset({ ...ORDER, status: 'active' }),
              appointments: searchset(),
            },
          };

    it(`refuses the answer at ${hook} where a record is required`, async () => {
      const { app, lines } = appWith('required', {});
      problem(await post(app, pathOfHook(hook), hooked), 503, [SECRET, 'patient-1']);
      expect(lines.filter((text) => text.includes('decision could not be kept'))).toHaveLength(1);
      expect(lines.join('')).not.toContain(SECRET);
    });

    it(`costs the reader nothing at ${hook} where it is not, and is logged`, async () => {
      const { app, lines } = appWith('best-effort', {});
      const cards = cardsOf(await post(app, pathOfHook(hook), hooked));
      expect(rulesOf(cards)).toContain('neurological-disease');
      while (lines.length < 2) await new Promise(setImmediate);
      expect(lines.filter((text) => text.includes('decision could not be kept'))).toHaveLength(1);
      expect(lines.filter((text) => text.includes('"msg":"call"'))).toHaveLength(1);
      expect(lines.join('')).not.toContain(SECRET);
    });
  }

  it('to say what was acknowledged repeats cards rather than staying silent', async () => {
    const { app, lines } = appWith('required', {
      acknowledgedBy: failing,
      saveDecision: () => Promise.resolve(),
    });
    expect(rulesOf(cardsOf(await post(app, pathOfHook('order-sign'), call)))).toEqual([
      'neurological-disease',
    ]);
    expect(lines.join('')).toContain('acknowledgements could not be read');
    expect(lines.join('')).not.toContain(SECRET);
  });
});
