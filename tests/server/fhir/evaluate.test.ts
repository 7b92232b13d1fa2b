import type { Bundle, FhirResource, GuidanceResponse, OperationOutcome, Parameters } from 'fhir/r4.js';
import fc from 'fast-check';
import request from 'supertest';
import { afterAll, describe, expect, it } from 'vitest';
import { advise } from '../../../src/advice/index.js';
import type { JsonObject } from '../../../src/fhir/json.js';
import type { Site } from '../../../src/rulebook/site.js';
import { inputOf } from '../../../src/server/decision-content.js';
import { openStore } from '../../../src/store/open-store.js';
import { newPseudonyms } from '../../../src/store/pseudonym.js';
import type { DecisionRecord, Store } from '../../../src/store/store.js';
import { advisor, testPatient } from '../../advice/patients.js';
import { northCampus } from '../../facts/sites.js';
import { startFhirServer } from '../../fhir-server/fhir-server.js';
import { schemaIssues } from '../../oracles/fhir-json-schema.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { shipped } from '../../rulebook/shipped.js';
import { mutate, mutation } from '../mutation.js';
import { entriesOf } from '../record-calls.js';
import { PUBLIC_URL, ask, capture, productionApp, token } from '../auth/tokens.js';
import { NOW, TEST_KEY, post, problem, testApp } from '../test-service.js';
import type { AppSettings, Reply } from '../test-service.js';

const EVALUATE = '/fhir/$evaluate';
const FHIR = { 'Content-Type': 'application/fhir+json' };
const TOKEN = 'Zqxsecrettoken';
const RUNS = Number(process.env['KOTYLE_FUZZ_RUNS'] ?? 60);

async function evaluate(body: unknown, settings: AppSettings = {}): Promise<Reply> {
  return await post(testApp(settings), EVALUATE, body, FHIR);
}

function parameters(...parameter: readonly JsonObject[]): JsonObject {
  return { resourceType: 'Parameters', parameter };
}

function data(name: string): JsonObject {
  return { name: 'data', resource: testPatient(name).bundle };
}

function bundleOf(reply: Reply): Bundle {
  expect(reply.status, reply.text).toBe(200);
  expect(reply.headers['content-type']).toBe('application/fhir+json; charset=utf-8');
  const bundle = JSON.parse(reply.text) as Bundle;
  // Truth: two validators over HL7's definitions, and HL7's JSON Schema.
  expect(fhirIssues(bundle)).toEqual([]);
  expect(schemaIssues(bundle)).toEqual([]);
  expect(bundle.type).toBe('collection');
  return bundle;
}

function ofType<Type extends FhirResource['resourceType']>(
  { entry = [] }: Bundle,
  type: Type,
): readonly Extract<FhirResource, { resourceType: Type }>[] {
  return entry.flatMap(({ resource }) =>
    resource?.resourceType === type ? [resource as Extract<FhirResource, { resourceType: Type }>] : [],
  );
}

/** Hip and construct of each response. */
function hipsIn(bundle: Bundle): readonly string[] {
  return ofType(bundle, 'GuidanceResponse').map((response) => {
    const value = (name: string): unknown =>
      evaluationIn(response).parameter?.find((one) => one.name === name)?.valueCode;
    return `${String(value('hip'))} ${String(value('construct'))}`;
  });
}

function evaluationIn({ contained = [] }: GuidanceResponse): Parameters {
  return contained.find((one): one is Parameters => one.resourceType === 'Parameters') as Parameters;
}

function remarksIn(bundle: Bundle): readonly string[] {
  const [outcome]: readonly OperationOutcome[] = ofType(bundle, 'OperationOutcome');
  return (outcome?.issue ?? []).map(({ details }) => details?.text ?? '');
}

describe('$evaluate with the record in the request', () => {
  it.each(['demo-parkinson-steep-cup', 'staged-bilateral', 'impossible-and-conflicting', 'nothing-known'])(
    'gives %s back as valid FHIR, alone as a Bundle and as Parameters alike',
    async (name) => {
      const alone = bundleOf(await evaluate(testPatient(name).bundle));
      const wrapped = bundleOf(await evaluate(parameters(data(name))));
      expect(ofType(alone, 'GuidanceResponse').length).toBeGreaterThan(0);
      // The name of a call follows from its bytes; what was found does not.
      const withoutIds = (bundle: Bundle): unknown =>
        ofType(bundle, 'GuidanceResponse').map((one) => [evaluationIn(one), one.status, one.dataRequirement]);
      expect(withoutIds(wrapped)).toEqual(withoutIds(alone));
    },
  );

  it('answers the same bytes to the same request', async () => {
    const body = testPatient('demo-parkinson-steep-cup').bundle;
    expect((await evaluate(body)).text).toBe((await evaluate(body)).text);
  });

  it('says what the card of the order says, with a link to the evidence', async () => {
    const reply = await evaluate(testPatient('demo-parkinson-steep-cup').bundle, {
      publicUrl: 'https://hip.example',
    });
    const titles = ofType(bundleOf(reply), 'RequestGroup').flatMap(({ action = [] }) =>
      action.map(({ title }) => title),
    );
    expect(titles.length).toBeGreaterThan(1);
    expect(reply.text.includes(`https://hip.example/evidence/${shipped.about.version}/`)).toBe(true);
  });

  it('tells one hip where one is asked for', async () => {
    const both = hipsIn(bundleOf(await evaluate(parameters(data('staged-bilateral')))));
    expect(new Set(both.map((one) => one.split(' ')[0]))).toEqual(new Set(['left', 'right']));
    const left = parameters(data('staged-bilateral'), { name: 'hip', valueCode: 'left' });
    expect(hipsIn(bundleOf(await evaluate(left)))).toEqual(both.filter((one) => one.startsWith('left')));
  });

  it('tells the planned replacement or the one in place where one of them is asked for', async () => {
    for (const [stage, construct] of [
      ['planned', 'planned'],
      ['postoperative', 'in-place'],
    ] as const) {
      const all = hipsIn(bundleOf(await evaluate(parameters(data('staged-bilateral')))));
      const asked = parameters(data('staged-bilateral'), { name: 'stage', valueCode: stage });
      expect(hipsIn(bundleOf(await evaluate(asked)))).toEqual(all.filter((one) => one.endsWith(construct)));
    }
  });

  it('evaluates for another time in development', async () => {
    const now = { name: 'now', valueInstant: '2027-03-01T09:00:00+02:00' };
    const bundle = bundleOf(await evaluate(parameters(data('demo-parkinson-steep-cup'), now)));
    expect(bundle.timestamp).toBe('2027-03-01T07:00:00.000Z');
    const own = bundleOf(await evaluate(parameters(data('demo-parkinson-steep-cup'))));
    expect(own.timestamp).toBe(NOW);
  });

  it('says that nothing was recognised, and that this is no clearance', async () => {
    const stranger = {
      resourceType: 'Bundle',
      type: 'collection',
      entry: [{ resource: { resourceType: 'Patient', id: 'p' } }],
    };
    const bundle = bundleOf(await evaluate(stranger));
    expect(bundle.entry?.length).toBe(1);
    expect(remarksIn(bundle).join(' ')).toMatch(/No hip replacement was recognised.*no clearance/);
  });

  it('reads local codes by the maps of the site', async () => {
    const bundle = bundleOf(
      await evaluate(testPatient('demo-parkinson-steep-cup').bundle, { installation: northCampus }),
    );
    expect(ofType(bundle, 'GuidanceResponse').length).toBeGreaterThan(0);
  });
});

describe('[E9] what $evaluate refuses', () => {
  const patient = (id: string): JsonObject => ({ resource: { resourceType: 'Patient', id } });
  const bundle = (...entry: readonly JsonObject[]): JsonObject => ({
    resourceType: 'Bundle',
    type: 'collection',
    entry,
  });
  const subject = { name: 'subject', valueString: 'Miller1' };
  const server = { name: 'fhirServer', valueUrl: 'https://record.example/fhir' };

  it.each<[string, unknown]>([
    ['two patients', bundle(patient('Miller1'), patient('Miller2'))],
    [
      'two patients in data',
      parameters({ name: 'data', resource: bundle(patient('Miller1'), patient('Miller2')) }),
    ],
    ['no patient', bundle()],
    [
      'a patient without an id',
      bundle({ resource: { resourceType: 'Patient', name: [{ family: 'Miller' }] } }),
    ],
    ['another resource', { resourceType: 'Patient', id: 'Miller1' }],
    ['a list', []],
    ['no parameter', parameters()],
    ['an unknown parameter', parameters(data('nothing-known'), { name: 'Miller', valueString: 'x' })],
    ['a parameter twice', parameters(data('nothing-known'), data('nothing-known'))],
    ['data and subject', parameters(data('nothing-known'), subject, server)],
    [
      'data and a token',
      parameters(data('nothing-known'), {
        name: 'fhirAuthorization',
        part: [{ name: 'access_token', valueString: TOKEN }],
      }),
    ],
    ['subject without server', parameters(subject)],
    ['server without subject', parameters(server)],
    ['a subject that is no id', parameters({ name: 'subject', valueString: 'Miller, Anna' }, server)],
    [
      'a server that is no web address',
      parameters(subject, { name: 'fhirServer', valueUrl: 'file:///Miller' }),
    ],
    ['a hip that is no side', parameters(data('nothing-known'), { name: 'hip', valueCode: 'both' })],
    ['a stage it has none of', parameters(data('nothing-known'), { name: 'stage', valueCode: 'native' })],
    [
      'a time without zone',
      parameters(data('nothing-known'), { name: 'now', valueInstant: '2026-01-01T10:00:00' }),
    ],
  ])('is %s: 400, without a word of what was sent', async (_what, body) => {
    problem(await evaluate(body), 400, ['Miller', TOKEN]);
  });

  it('is another method, media type or form', async () => {
    const app = testApp();
    problem(await request(app).get(EVALUATE), 405);
    problem(await post(app, EVALUATE, '{', FHIR), 400);
    problem(await post(app, EVALUATE, '<a/>', { 'Content-Type': 'application/fhir+xml' }), 415);
    problem(await post(app, EVALUATE, {}, { ...FHIR, Accept: 'application/fhir+xml' }), 406);
    problem(await request(app).post('/fhir/Patient/$evaluate'), 404);
  });

  it('is a server the operator does not allow, and the token goes nowhere', async () => {
    const body = parameters(subject, server, {
      name: 'fhirAuthorization',
      part: [{ name: 'access_token', valueString: TOKEN }],
    });
    problem(await evaluate(body), 403, ['Miller', TOKEN]);
    problem(await evaluate(body, { fhirServers: ['https://other.example/fhir'] }), 403, ['Miller', TOKEN]);
  });

  it('is a record of somebody else', async () => {
    const body = { ...testPatient('demo-parkinson-steep-cup').bundle };
    const entry = entriesOf(body).map((resource) =>
      resource['resourceType'] === 'Condition'
        ? { resource: { ...resource, subject: { reference: 'Patient/Miller2' } } }
        : { resource },
    );
    // Of another patient nothing is used, and it is said.
    const reply = await evaluate({ ...body, entry });
    expect(remarksIn(bundleOf(reply)).length).toBeGreaterThan(0);
  });
});

describe('$evaluate with a FHIR server', () => {
  const servers: { readonly stop: () => Promise<void> }[] = [];
  afterAll(async () => {
    await Promise.all(servers.map(async (server) => await server.stop()));
  });

  it('reads the record with the token of the caller, and finds what it finds in the Bundle', async () => {
    const { bundle } = testPatient('demo-parkinson-steep-cup');
    const server = await startFhirServer(entriesOf(bundle));
    servers.push(server);
    const settings = { fhirServers: [server.base], fhirBudgetMs: 5000 };
    const patientId = String(
      entriesOf(bundle).find(({ resourceType }) => resourceType === 'Patient')?.['id'],
    );
    const from = (subject: string): JsonObject =>
      parameters(
        { name: 'subject', valueString: subject },
        { name: 'fhirServer', valueUrl: server.base },
        {
          name: 'fhirAuthorization',
          part: [
            { name: 'access_token', valueString: TOKEN },
            { name: 'scope', valueString: 'system/*.read' },
          ],
        },
      );
    const read = await evaluate(from(`Patient/${patientId}`), settings);
    const titles = (reply: Reply): unknown =>
      ofType(bundleOf(reply), 'RequestGroup').map(({ action = [] }) => action.map(({ title }) => title));
    expect(titles(read)).toEqual(titles(await evaluate(bundle)));
    expect(read.text).not.toContain(TOKEN);
    problem(await evaluate(from('nobody'), settings), 412, ['nobody']);
  });
});

describe('what $evaluate may say', () => {
  const bundle = testPatient('demo-parkinson-steep-cup').bundle;
  const held = { why: 'a trial', by: 'Dr Miller', date: '2026-11-01', until: '2027-05-01' };

  function site(change: Partial<Site>): Site {
    return { ...northCampus, services: new Map(), rules: new Map(), ...change };
  }

  it('is nothing where the services are silent, and why stands in the answer', async () => {
    const services = new Map([
      ['hip-stability-order', 'silent'],
      ['hip-stability-chart', 'silent'],
      ['hip-stability-booking', 'off'],
    ] as const);
    const answer = bundleOf(await evaluate(bundle, { installation: site({ services }) }));
    expect(answer.entry?.map(({ resource }) => resource?.resourceType)).toEqual(['OperationOutcome']);
    expect(remarksIn(answer).join('\n')).toMatch(
      /Order being signed: evaluated and recorded; this installation keeps/,
    );
  });

  it('leaves out a rule that is silent here', async () => {
    const loud = await evaluate(bundle, { installation: site({}) });
    expect(loud.text).toContain('"neurological-disease"');
    const rules = new Map([['neurological-disease', { state: 'silent' as const, ...held }]]);
    const quiet = await evaluate(bundle, { installation: site({ rules }) });
    expect(bundleOf(quiet).entry?.length).toBeGreaterThan(1);
    expect(quiet.text).not.toContain('"neurological-disease"');
    expect(quiet.text).not.toContain('Miller');
  });
});

describe('$evaluate with a damaged request', () => {
  it('answers it or refuses it, and never fails', async () => {
    const app = testApp();
    const body = parameters(data('demo-parkinson-steep-cup'), { name: 'hip', valueCode: 'left' });
    const draws = fc.sample(fc.array(mutation, { minLength: 1, maxLength: 4 }), {
      numRuns: RUNS,
      seed: 20_261_124,
    });
    for (const [index, mutations] of draws.entries()) {
      const reply = await post(app, EVALUATE, mutate(body, mutations), FHIR);
      expect([200, 400], reply.text).toContain(reply.status);
      // Reading one thoroughly takes longer than answering it.
      if (index % 10 === 0) expect(fhirIssues(JSON.parse(reply.text) as object)).toEqual([]);
    }
  }, 120_000);
});

describe('$evaluate in production', () => {
  const bundle = testPatient('demo-parkinson-steep-cup').bundle;
  const bearer = (path: string): string => `Bearer ${token({ claims: { aud: `${PUBLIC_URL}${path}` } })}`;

  it('needs a token for this very operation, as reading the knowledge needs one for the endpoint', async () => {
    const app = productionApp();
    for (const reply of [
      await ask(app, undefined, { path: EVALUATE, body: bundle }),
      await ask(app, bearer('/fhir'), { path: EVALUATE, body: bundle }),
      await ask(app, undefined, { path: '/fhir/metadata', method: 'get' }),
    ])
      expect([reply.status, reply.text]).toEqual([401, '']);
    const read = await ask(app, bearer('/fhir'), { path: '/fhir/PlanDefinition', method: 'get' });
    expect((JSON.parse(read.text) as Bundle).total).toBe(shipped.rules.length);
  });

  it('says nothing where nobody signed, and keeps the time its own', async () => {
    const app = productionApp();
    const silent = bundleOf(await ask(app, bearer(EVALUATE), { path: EVALUATE, body: bundle }));
    expect(silent.entry?.map(({ resource }) => resource?.resourceType)).toEqual(['OperationOutcome']);
    expect(remarksIn(silent).join(' ')).toContain('silent (not-signed)');
    const body = parameters(data('nothing-known'), { name: 'now', valueInstant: '2027-03-01T09:00:00Z' });
    problem(await ask(app, bearer(EVALUATE), { path: EVALUATE, body }), 400);
  });

  it('shows the pages of the evidence to anybody: they tell of no patient', async () => {
    const page = await ask(productionApp(), undefined, { path: '/evidence/', method: 'get' });
    expect(page.status).toBe(200);
  });
});

describe('the log of an evaluation', () => {
  it('names occasions and outcomes, and nothing of the patient or the token', async () => {
    const { log, lines } = capture();
    const { bundle } = testPatient('demo-parkinson-steep-cup');
    await evaluate(bundle, { log });
    const body = parameters(
      { name: 'subject', valueString: 'Miller1' },
      { name: 'fhirServer', valueUrl: 'https://record.example/fhir' },
      { name: 'fhirAuthorization', part: [{ name: 'access_token', valueString: TOKEN }] },
    );
    await evaluate(body, { log });
    const text = lines.join('');
    expect(text).toContain('"order-sign"');
    for (const { id } of entriesOf(bundle)) if (typeof id === 'string') expect(text).not.toContain(`"${id}"`);
    expect(text).not.toContain('Miller1');
    expect(text).not.toContain(TOKEN);
  });
});

describe('the record of an evaluation', () => {
  async function keeping(): Promise<{ readonly store: Store; readonly kept: DecisionRecord[] }> {
    const real = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const kept: DecisionRecord[] = [];
    const store: Store = {
      ...real,
      saveDecision: async (record, content) => {
        kept.push(record);
        await real.saveDecision(record, content);
      },
    };
    return { store, kept };
  }

  it('is kept for each occasion as a call is, under the id of the operation and without the token', async () => {
    const { store, kept } = await keeping();
    const reply = await evaluate(testPatient('demo-parkinson-steep-cup').bundle, {
      store,
      audit: 'required',
    });
    const responses = ofType(bundleOf(reply), 'GuidanceResponse');
    expect(kept.map(({ service }) => service)).toEqual(kept.map(() => '$evaluate'));
    expect(new Set(kept.map(({ hook }) => hook)).size).toBe(kept.length);
    const ids = new Set(kept.map(({ id }) => `urn:uuid:${id}`));
    for (const { identifier } of responses) expect(ids).toContain(identifier?.[0]?.value);
    for (const { id } of kept) expect(await store.decision(id)).toBeDefined();
    expect(JSON.stringify(kept)).not.toContain('demo-parkinson');
    await store.close();
  });

  it('is enough to make the same cards again', async () => {
    const { store, kept } = await keeping();
    await evaluate(testPatient('demo-parkinson-steep-cup').bundle, { store, audit: 'required' });
    const nameSecret = newPseudonyms(TEST_KEY).secret;
    let cards = 0;
    for (const { id } of kept) {
      const content = await store.content(id);
      if (!content) continue;
      const input = inputOf(content, { nameSecret });
      const again = input && (await advise(input, advisor));
      expect(again?.kind === 'answer' && again.cards).toEqual(content.cards);
      cards += (content.cards as readonly unknown[]).length;
    }
    expect(cards).toBeGreaterThan(1);
    await store.close();
  });

  it('is needed for an answer where it is required', async () => {
    const real = await openStore({ path: ':memory:', contentKey: TEST_KEY });
    const broken: Store = { ...real, saveDecision: () => Promise.reject(new Error('disk full')) };
    const body = testPatient('demo-parkinson-steep-cup').bundle;
    problem(await evaluate(body, { store: broken, audit: 'required' }), 503);
    expect((await evaluate(body, { store: broken, audit: 'best-effort' })).status).toBe(200);
    await real.close();
  });
});
