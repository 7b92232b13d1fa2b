import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { PREFETCH_KEYS } from '../../src/advice/services.js';
import { service, testPatient } from '../advice/patients.js';
import { measureObservation, planBundle } from '../advice/plan.js';
import { each } from '../long-form.js';
import { startFhirServer } from '../fhir-server/fhir-server.js';
import type { FhirServer } from '../fhir-server/fhir-server.js';
import { prefetchOf, RECORD_PROFILES } from '../fhir-server/record-profiles.js';
import { newRecordStore, withoutResources } from '../fhir-server/record-store.js';
import type { RecordStore } from '../fhir-server/record-store.js';
import { checkResponse } from '../protocol/logical-model-check.js';
import { AMPLE_MS } from './fallback/records.js';
import { accessTo, entriesOf, pathOfHook, queriesFor, travellingIn } from './record-calls.js';
import { callFor, cardsOf, post, rulesOf, testApp } from './test-service.js';
import type { HookCall, WireCard } from './test-service.js';

/** Twenty test patients with an order: every kind of card the shipped rules make, and those that get none. */
const PATIENTS = [
  'ankle-fusion',
  'ankylosed-spine-limits-disagree',
  'demo-parkinson-steep-cup',
  'dual-mobility-steep',
  'fixed-posterior-pelvis',
  'fracture-with-dementia',
  'fused-spine-tilt-above',
  'hemiarthroplasty-order',
  'impossible-and-conflicting',
  'knee-replacement',
  'low-sum-unstable-no-direction',
  'nothing-known',
  'order-left-plan-right',
  'plan-for-other-hip',
  'retained-stem-low-sum',
  'short-leg-dysplasia',
  'staged-bilateral',
  'textbook-hip',
  'third-dislocation-right',
  'weak-abductors-lost-offset',
];

const HOOKS = ['appointment-book', 'order-select', 'order-sign', 'patient-view'] as const;
type Hook = (typeof HOOKS)[number];
type ProfileName = keyof typeof RECORD_PROFILES;
const POORER = ['us-core-like', 'prefetch-only', 'token-only'] as const satisfies readonly ProfileName[];

/** What a profile can't bring to a hook: everything else it can. */
function missingIn(profile: ProfileName, hook: Hook): readonly string[] {
  const { keys, laterKeys } = service(hook);
  const read: readonly string[] = [...keys, ...laterKeys];
  // Its server has no DeviceRequest, in the test harness of integration decisions section 6.
  if (profile === 'us-core-like') return read.filter((key) => key === 'deviceRequests');
  // Integration decisions section 2: the chart reads the rest with a token.
  return profile === 'prefetch-only' ? laterKeys : [];
}

/** The answer to a call of the record system behind one profile: a service and, where it has one, a server of its own. */
async function throughProfile(
  profile: ProfileName,
  call: HookCall,
  record: RecordStore,
): Promise<readonly WireCard[]> {
  const { prefetch: sends, server: switches } = RECORD_PROFILES[profile];
  const prefetch = sends ? { prefetch: await prefetchOf(record, queriesFor(call)) } : {};
  const { hook, hookInstance, context } = call;
  const server: FhirServer | undefined = switches ? await startFhirServer(record, switches) : undefined;
  try {
    const app = testApp({ fhirServers: server ? [server.base] : [], fhirBudgetMs: AMPLE_MS });
    const body = { hook, hookInstance, context, ...prefetch, ...(server && accessTo(server.base)) };
    const cards = cardsOf(await post(app, pathOfHook(hook), body));
    // C1 to C22, G4.
    expect(checkResponse({ cards })).toEqual([]);
    return cards;
  } finally {
    await server?.stop();
  }
}

/** What acted on travels in the call; the record holds everything else. */
async function throughAll(
  bundle: JsonObject,
  hook: Hook,
  whole: RecordStore,
): Promise<Readonly<Record<ProfileName, readonly WireCard[]>>> {
  const call = callFor(bundle, hook);
  const record = withoutResources(whole, travellingIn(call));
  const answers = await Promise.all(
    (['full', ...POORER] as const).map(async (profile) => [
      profile,
      await throughProfile(profile, call, record),
    ]),
  );
  return Object.fromEntries(answers) as Readonly<Record<ProfileName, readonly WireCard[]>>;
}

function isGap(card: WireCard): boolean {
  return card.source.topic.code === 'data-gap';
}

/**
 * The cards without the data-gap card and without the name of the evaluation, which knows of the outcomes that could
 * not be told. Everything else stays: ids, summaries, details, suggestions, facts and the resources they came from.
 */
function comparable(cards: readonly WireCard[]): readonly unknown[] {
  return cards
    .filter((card) => !isGap(card))
    .map((card) => {
      const { evaluation, ...advisory } = card.extension['example.kotyle.advisory'];
      expect(evaluation).toMatch(/^[0-9a-f-]{36}$/);
      return { ...card, extension: { 'example.kotyle.advisory': advisory } };
    });
}

function namedInGap(cards: readonly WireCard[]): readonly string[] {
  const gaps = cards.filter(isGap);
  // Integration decisions section 3: at most one card per answer speaks of missing data.
  expect(gaps.length).toBeLessThanOrEqual(1);
  const sets = gaps.flatMap((card) => card.extension['example.kotyle.advisory']['sets']) as readonly {
    readonly id: string;
  }[];
  return sets.map(({ id }) => id);
}

function advisoryOf(card: WireCard): JsonObject {
  return card.extension['example.kotyle.advisory'];
}

/**
 * The card is one of the full answer's: the same rule of the same hip, by its id. It may lack a fact that was not read,
 * and with it the finding the rule tells first; then the data-gap card says that something was not read. Where the full
 * answer had more to say than its ceiling shows, the card is one of those it names.
 */
function expectAmong(card: WireCard, full: readonly WireCard[], gap: readonly string[]): void {
  const { code } = card.source.topic;
  const same = full.find(({ uuid }) => uuid === card.uuid);
  const left = full.flatMap((each) => (advisoryOf(each)['rules'] ?? []) as readonly string[]);
  if (!same) {
    expect(left, card.summary).toContain(code);
    return;
  }
  expect([same.indicator, same.source, same.suggestions]).toEqual([
    card.indicator,
    card.source,
    card.suggestions,
  ]);
  const facts = (each: WireCard): readonly unknown[] =>
    (advisoryOf(each)['facts'] ?? []) as readonly unknown[];
  const saysTheSame = same.summary === card.summary && facts(same).length === facts(card).length;
  if (code === 'more-advisories') return;
  if (saysTheSame) expect(facts(card), card.summary).toEqual(facts(same));
  else expect(gap, card.summary).not.toEqual([]);
}

/** Holds the answers of all profiles against that of the full one; hands out how many cards that one had. */
function compare(answers: Readonly<Record<ProfileName, readonly WireCard[]>>, hook: Hook): number {
  const full = comparable(answers.full);
  expect(namedInGap(answers.full), `${hook} full`).toEqual([]);
  for (const profile of POORER) {
    const where = `${hook} ${profile}`;
    const cards = comparable(answers[profile]);
    const gap = namedInGap(answers[profile]);
    const missing = missingIn(profile, hook);
    expect(missing, where).toEqual(expect.arrayContaining([...gap]));
    if (hook === 'order-sign' || missing.length === 0) expect(cards, where).toEqual(full);
    else
      for (const card of answers[profile].filter((each) => !isGap(each)))
        expectAmong(card, answers.full, gap);
    // What a poorer record system keeps from the reader is told.
    if (cards.length < full.length) expect(gap, where).not.toEqual([]);
  }
  return full.length;
}

// Truth throughout: integration decisions section 6, "Test harness".
describe('a record read through four kinds of record system', () => {
  for (const name of each(3, PATIENTS)) {
    it(`tells the same of ${name}`, async () => {
      const { bundle, expected } = testPatient(name);
      const record = await newRecordStore(entriesOf(bundle));
      for (const hook of HOOKS) {
        const count = compare(await throughAll(bundle, hook, record), hook);
        // So that equal does not mean equally empty.
        const written = expected.cards[hook];
        if (written) expect(count, hook).toBe(written.length);
      }
    });
  }
});

const MEASURE = 'https://kotyle.example/fhir/CodeSystem/hip-measure';
const VALUE = 'https://kotyle.example/fhir/CodeSystem/hip-measure-value';
const SNOMED = 'http://snomed.info/sct';
const subject = { reference: 'Patient/patient-1' };
const LEFT = { coding: [{ system: SNOMED, code: '287679003' }] };
const degrees = (value: number): JsonObject => ({
  valueQuantity: { value, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
});

/** An order for a cup whose angles are its parameters. */
function implantOrder(status: string): JsonObject {
  return {
    resourceType: 'DeviceRequest',
    id: 'cup-order',
    status,
    intent: 'order',
    basedOn: [{ reference: 'ServiceRequest/order-1' }],
    // SNOMED CT 304120007 |Total hip replacement prosthesis|.
    codeCodeableConcept: { coding: [{ system: SNOMED, code: '304120007' }] },
    subject,
    authoredOn: '2026-11-02',
    parameter: [
      { code: { coding: [{ system: MEASURE, code: 'cup-inclination' }] }, ...degrees(64) },
      { code: { coding: [{ system: MEASURE, code: 'cup-anteversion' }] }, ...degrees(20) },
    ],
  };
}

const ANSWERED_PLAN: JsonObject = {
  resourceType: 'QuestionnaireResponse',
  id: 'plan',
  status: 'completed',
  questionnaire: 'https://kotyle.example/fhir/Questionnaire/hip-plan|2026.11.0',
  basedOn: [{ reference: 'ServiceRequest/order-1' }],
  subject,
  authored: '2026-11-02',
  item: [
    {
      linkId: 'hip',
      item: [
        { linkId: 'hip.side', answer: [{ valueCoding: { system: VALUE, code: 'left' } }] },
        {
          linkId: 'hip.angle-definition',
          answer: [{ valueCoding: { system: VALUE, code: 'radiographic' } }],
        },
        { linkId: 'hip.reference-plane', answer: [{ valueCoding: { system: VALUE, code: 'app' } }] },
        { linkId: 'cup-inclination', answer: [degrees(64)] },
        { linkId: 'cup-anteversion', answer: [degrees(20)] },
      ],
    },
  ],
};

const STEEP = 'cup-inclination-outside-published';

describe('a plan stated otherwise than in Observations', () => {
  it('in an implant order that is signed with the operation is told the same everywhere', async () => {
    const bundle = planBundle([implantOrder('draft')]);
    const record = await newRecordStore(entriesOf(bundle));
    const answers = await throughAll(bundle, 'order-sign', record);
    expect(rulesOf(answers.full)).toContain(STEEP);
    compare(answers, 'order-sign');
  });

  it('in an implant order on record is told by every record system that has such orders, and missed aloud by the other', async () => {
    const bundle = planBundle([implantOrder('active')]);
    const record = await newRecordStore(entriesOf(bundle));
    const answers = await throughAll(bundle, 'order-sign', record);
    expect(rulesOf(answers.full)).toContain(STEEP);
    for (const profile of ['prefetch-only', 'token-only'] as const)
      expect(comparable(answers[profile])).toEqual(comparable(answers.full));
    expect(rulesOf(answers['us-core-like'])).toEqual(['data-gap']);
    expect(namedInGap(answers['us-core-like'])).toEqual(['deviceRequests']);
    // Integration decisions section 2: a refusal by 404 is "not offered here".
    expect(answers['us-core-like'][0]?.detail).toContain('not offered here');
  });

  it('in an answered questionnaire is told the same everywhere', async () => {
    const bundle = planBundle([ANSWERED_PLAN]);
    const record = await newRecordStore(entriesOf(bundle));
    for (const hook of ['order-select', 'order-sign', 'patient-view'] as const) {
      const answers = await throughAll(bundle, hook, record);
      expect(rulesOf(answers.full), hook).toContain(STEEP);
      compare(answers, hook);
    }
  });
});

describe('a hip replaced before', () => {
  const device = {
    resourceType: 'Device',
    id: 'cup',
    status: 'active',
    patient: subject,
    type: { coding: [{ system: SNOMED, code: '304120007' }] },
  };
  const replaced = {
    resourceType: 'Procedure',
    id: 'replaced',
    status: 'completed',
    subject,
    code: { coding: [{ system: SNOMED, code: '52734007' }] },
    bodySite: [LEFT],
    performedDateTime: '2011-03-01',
    focalDevice: [{ manipulated: { reference: 'Device/cup' } }],
  };
  const use = {
    resourceType: 'DeviceUseStatement',
    id: 'cup-use',
    status: 'active',
    subject,
    device: { reference: 'Device/cup' },
    bodySite: LEFT,
  };
  const impossible = {
    ...measureObservation('cup-inclination', 400, 'deg'),
    id: 'film',
    basedOn: [],
    status: 'final',
    category: [
      { coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/measure-stage', code: 'postoperative' }] },
      { coding: [{ system: 'https://kotyle.example/fhir/CodeSystem/measure-group', code: 'hip-stability' }] },
    ],
  };

  it('is told the same at every entry, whoever kept it', async () => {
    const bundle = planBundle([device, replaced, use, impossible]);
    const record = await newRecordStore(entriesOf(bundle));
    for (const hook of ['order-select', 'order-sign', 'patient-view'] as const)
      compare(await throughAll(bundle, hook, record), hook);
    const chart = await throughAll(bundle, 'patient-view', record);
    expect(rulesOf(chart.full)).toContain('measure-implausible-or-conflicting');
  });
});

it('the profiles reach every set of the published table but the site’s own', () => {
  const all = new Set(HOOKS.flatMap((hook) => [...service(hook).keys, ...service(hook).laterKeys]));
  expect(PREFETCH_KEYS.filter((key) => !all.has(key))).toEqual(['localMeasures']);
});
