import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { SERVICES } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Site } from '../../src/rulebook/site.js';
import { STATES } from '../../src/rulebook/governance-schema.js';
import { openStore } from '../../src/store/open-store.js';
import type { DecisionRecord } from '../../src/store/store.js';
import { testPatient } from '../advice/patients.js';
import { filesWith, siteOf } from '../facts/sites.js';
import { ask, productionApp, PUBLIC_URL, token } from './auth/tokens.js';
import { pathOfHook } from './record-calls.js';
import {
  callFor,
  cardsOf,
  ORDER_PATH,
  orderCall,
  planned,
  post,
  problem,
  rulesOf,
  TEST_KEY,
  testApp,
} from './test-service.js';
import type { AppSettings, Reply } from './test-service.js';

// Truth throughout, where nothing else is named: integration decisions section 4.

const DECIDED = { why: 'a reason', by: 'the hip team', date: '2026-11-02', until: '2027-05-01' };
const RULE = 'neurological-disease';
/** A patient of whom that rule speaks at all four entries. */
const { bundle } = testPatient('demo-parkinson-steep-cup');
const NOTHING = '{"cards":[]}';

function site(members: JsonObject): Site {
  const [file] = filesWith();
  if (!file) throw new Error('expected a site file');
  return siteOf([{ ...file, content: { ...(file.content as JsonObject), ...members } }]);
}

interface Answered {
  readonly reply: Reply;
  readonly decisions: readonly DecisionRecord[];
}

/** The answer at one hook, and what is kept of it. */
async function answered(hook: string, settings: AppSettings): Promise<Answered> {
  const store = await openStore({ path: ':memory:', contentKey: TEST_KEY });
  const app = testApp({ ...settings, store, audit: 'required' });
  const reply = await post(app, pathOfHook(hook), callFor(bundle, hook));
  const decisions: DecisionRecord[] = [];
  for await (const decision of store.decisions()) decisions.push(decision);
  await store.close();
  return { reply, decisions };
}

describe('at every entry, a service and a rule', () => {
  const cases = SERVICES.flatMap(({ id, hook }) =>
    STATES.flatMap((service) => STATES.map((rule) => [hook, id, service, rule] as const)),
  );

  it.each(cases)(
    'at %s of %s that are %s and %s: asked, kept and shown accordingly',
    async (hook, id, service, state) => {
      const of = site({ services: { [id]: service }, rules: { [RULE]: { ...DECIDED, state } } });
      const { reply, decisions } = await answered(hook, { installation: of });
      if (service === 'off') {
        problem(reply, 404);
        expect(decisions).toEqual([]);
        return;
      }
      expect(reply.status, reply.text).toBe(200);
      const [decision] = decisions;
      const about = decision?.outcomes.filter(({ rule }) => rule === RULE) ?? [];
      const fired = about.filter(({ outcome }) => outcome === 'fires');
      const isShown = service === 'speak' && state === 'speak';
      expect(about.length > 0).toBe(state !== 'off');
      expect(fired.length > 0).toBe(state !== 'off');
      expect(fired.some(({ shown }) => shown)).toBe(isShown);
      expect(rulesOf(cardsOf(reply)).includes(RULE)).toBe(isShown);
      expect(decision?.silent).toBe(service === 'silent' ? true : undefined);
      // What is off or silent for one rule leaves the others as they are.
      const others = new Set(decision?.outcomes.map(({ rule }) => rule));
      expect(others.size).toBeGreaterThan(80);
      if (service === 'silent') {
        expect(reply.text).toBe(NOTHING);
        expect(decision?.cards).toEqual([]);
        expect(decision?.withheld?.some(({ rule }) => rule === RULE)).toBe(state === 'speak');
      }
    },
  );
});

describe('a silent answer', () => {
  it('is byte for byte that of a call in which nothing was found, and its record has everything', async () => {
    const quiet = site({ services: { 'hip-stability-order': 'silent' } });
    const silent = await answered('order-sign', { installation: quiet });
    const loud = await answered('order-sign', { installation: site({}) });
    const found = await post(testApp(), ORDER_PATH, orderCall());
    expect(silent.reply.text).toBe(found.text);
    for (const name of ['content-type', 'connection'])
      expect(silent.reply.headers[name], name).toBe(found.headers[name]);
    const shownAsNothing = (decisions: readonly DecisionRecord[]): unknown =>
      decisions.flatMap(({ outcomes }) => outcomes.map((one) => ({ ...one, shown: false })));
    expect(silent.decisions.flatMap(({ outcomes }) => outcomes)).toEqual(shownAsNothing(loud.decisions));
    const rules = (cards: DecisionRecord['cards'] | undefined): readonly string[] =>
      (cards ?? []).map(({ rule }) => rule);
    expect(rules(silent.decisions[0]?.withheld)).toEqual(rules(loud.decisions[0]?.cards));
    expect(rules(loud.decisions[0]?.cards).length).toBeGreaterThan(1);
    expect(loud.decisions[0]).not.toHaveProperty('withheld');
  });
});

interface Published {
  readonly id: string;
  readonly hook: string;
  readonly extension: { readonly 'example.kotyle.service': JsonObject };
}

async function published(settings: AppSettings): Promise<readonly Published[]> {
  const reply = await request(testApp(settings)).get('/cds-services');
  return (JSON.parse(reply.text) as { readonly services: readonly Published[] }).services;
}

describe('[R12] discovery', () => {
  const of = site({ services: { 'hip-stability-order': 'off', 'hip-stability-chart': 'silent' } });

  it('leaves out a service that is off, and says of a silent one that it is', async () => {
    const services = await published({ installation: of });
    expect(services.map(({ id }) => id)).toEqual(['hip-stability-booking', 'hip-stability-chart']);
    const said = services.map(({ extension }) => extension['example.kotyle.service']);
    expect(said[0]).not.toHaveProperty('state');
    expect(said[1]).toMatchObject({ state: 'silent', why: 'service' });
  });

  it('leaves out order-select with its service, under an id of its own too', async () => {
    const services = await published({ installation: of, distinctIds: true });
    expect(services.map(({ id }) => id)).toEqual(['hip-stability-booking', 'hip-stability-chart']);
    const app = testApp({ installation: of, distinctIds: true });
    problem(
      await post(app, '/cds-services/hip-stability-order-select', callFor(bundle, 'order-select')),
      404,
    );
  });
});

describe('a limit of the site', () => {
  const of = site({
    parameters: { 'cup-inclination-upper-limit': { ...DECIDED, value: 48, unit: 'deg' } },
  });

  it('is kept with every decision it was in force for', async () => {
    const { decisions } = await answered('order-sign', { installation: of });
    expect(decisions[0]?.parameters).toEqual([
      { id: 'cup-inclination-upper-limit', value: 48, unit: 'deg', rulebook: 50 },
    ]);
    const after = new Date('2027-05-02T00:00:00.000Z');
    const later = await answered('order-sign', { installation: of, now: () => after });
    expect(later.decisions[0]).not.toHaveProperty('parameters');
  });

  it('speaks over HTTP of a cup the rulebook would not speak of', async () => {
    const call = orderCall({
      measures: [planned('cup-inclination', 49, 'deg'), planned('cup-anteversion', 20, 'deg')],
    });
    expect(rulesOf(cardsOf(await post(testApp(), ORDER_PATH, call)))).toEqual([]);
    const cards = cardsOf(await post(testApp({ installation: of }), ORDER_PATH, call));
    expect(rulesOf(cards)).toEqual(['cup-inclination-above-classical']);
    expect(cards[0]?.detail).toContain('48° here, 50° in the rulebook');
  });
});

describe('in production', () => {
  const AUDIENCE = `${PUBLIC_URL}/cds-services/hip-stability-order`;
  const call = callFor(bundle, 'order-sign');
  const SPEAKING: JsonObject = {
    services: { 'hip-stability-order': 'speak' },
    ceiling: { 'order-sign': 4 },
    defaults: { 'surgical-approach': 'posterior' },
  };

  function signed(members: JsonObject): JsonObject {
    const approval = { by: 'N. N.', role: 'clinical lead', date: '2026-11-02' };
    return { ...members, approvals: [{ ...approval, contentHash: site(members).hash }] };
  }

  async function text(members: JsonObject): Promise<string> {
    const app = productionApp({ installation: site(members) });
    const reply = await ask(app, `Bearer ${token({ claims: { aud: AUDIENCE } })}`, { body: call });
    expect(reply.status, reply.text).toBe(200);
    return reply.text;
  }

  it('a fresh installation is silent everywhere, signed or not', async () => {
    expect(await text({})).toBe(NOTHING);
    expect(await text(signed({}))).toBe(NOTHING);
  });

  it('what is named speaks once it is signed, and any edit makes it silent', async () => {
    expect(await text(SPEAKING)).toBe(NOTHING);
    const whole = signed(SPEAKING);
    expect(rulesOf(cardsOf({ status: 200, headers: {}, text: await text(whole) }))).toContain(RULE);
    for (const edit of [
      { ceiling: { 'order-sign': 5 } },
      { defaults: { 'surgical-approach': 'direct-lateral' } },
      { rules: { [RULE]: { ...DECIDED, note: 'see the local plan' } } },
      { version: '2' },
    ])
      expect(await text({ ...whole, ...edit }), JSON.stringify(edit)).toBe(NOTHING);
  });

  it('discovery says why a service is silent', async () => {
    const why = async (members: JsonObject): Promise<unknown> => {
      const app = productionApp({ installation: site(members) });
      const aud = `${PUBLIC_URL}/cds-services`;
      const reply = await ask(app, `Bearer ${token({ claims: { aud } })}`, {
        method: 'get',
        path: '/cds-services',
      });
      const { services } = JSON.parse(reply.text) as { readonly services: readonly Published[] };
      return services.map(({ extension }) => extension['example.kotyle.service']['why']);
    };
    expect(await why(SPEAKING)).toEqual(['not-signed', 'not-signed', 'not-signed', 'not-signed']);
    expect(await why(signed(SPEAKING))).toEqual(['not-named', undefined, undefined, 'not-named']);
  });

  it('a card goes on saying that the rulebook is a draft, whoever signed', async () => {
    const cards = cardsOf({ status: 200, headers: {}, text: await text(signed(SPEAKING)) });
    for (const card of cards) expect(JSON.stringify(card)).toContain('draft, experimental');
  });
});
