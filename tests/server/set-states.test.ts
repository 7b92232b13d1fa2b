import { describe, expect, it } from 'vitest';
import { testPatient } from '../advice/patients.js';
import { publishedServices } from '../../src/advice/index.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { cardsFor, chartCall, leftHipVisit, selectCall, SUBJECT } from './hook-calls.js';
import type { HookCall, WireCard } from './test-service.js';
import { LEFT, ORDER, orderCall, PATIENT, planned, RIGHT, searchset } from './test-service.js';

// Truth: integration decisions §2 (key absent, null and empty Bundle differ; an unresolvable token is never missing
// data) and §3 (the data-gap card names a set only if that set could have changed an outcome). Whether a set could
// have is not taken from the code but tried: each set has resources that it might have held, and the same call is
// made with each of them. If one changes the cards, the set's absence must be told; if none does, it must not.

const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';
const SNOMED = 'http://snomed.info/sct';
const BASE = 'https://kotyle.example/fhir/CodeSystem';

function concept(system: string, code: string): JsonObject {
  return { coding: [{ system, code }] };
}

function condition(code: string): JsonObject {
  return { resourceType: 'Condition', id: 'c', code: concept(ICD, code), subject: SUBJECT };
}

function procedure(system: string, code: string, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id: 'p',
    status: 'completed',
    code: concept(system, code),
    bodySite: [LEFT],
    subject: SUBJECT,
    performedDateTime: '2019-05-06',
    ...more,
  };
}

const IMPOSSIBLE = planned('cup-inclination', 400, 'deg', { id: 'impossible' });
const PARAMETER = {
  code: concept(`${BASE}/hip-measure`, 'cup-inclination'),
  valueQuantity: IMPOSSIBLE['valueQuantity'],
};
const LEFT_SIDE = {
  code: concept(`${BASE}/hip-measure`, 'hip-side'),
  valueCodeableConcept: concept(`${BASE}/hip-measure-value`, 'left'),
};
const IMPLANTS: JsonObject = {
  resourceType: 'DeviceRequest',
  id: 'implants',
  status: 'active',
  intent: 'order',
  codeCodeableConcept: concept(SNOMED, '304120007'),
  subject: SUBJECT,
  authoredOn: '2026-11-02',
  parameter: [LEFT_SIDE, PARAMETER],
};
const ANSWERED: JsonObject = {
  resourceType: 'QuestionnaireResponse',
  id: 'plan',
  questionnaire: 'https://kotyle.example/fhir/Questionnaire/hip-plan',
  status: 'completed',
  subject: SUBJECT,
  authored: '2026-11-02',
  item: [
    {
      linkId: 'hip',
      item: [
        {
          linkId: 'hip.side',
          answer: [{ valueCoding: { system: `${BASE}/hip-measure-value`, code: 'left' } }],
        },
        { linkId: 'cup-inclination', answer: [{ valueQuantity: IMPOSSIBLE['valueQuantity'] }] },
      ],
    },
  ],
};

/** A femoral head worn in the left hip. */
function implant(diameter: number): JsonObject {
  const quantity = { value: diameter, unit: 'mm', system: 'http://unitsofmeasure.org', code: 'mm' };
  return {
    resourceType: 'Device',
    id: 'head',
    status: 'active',
    type: concept(SNOMED, '304121006'),
    patient: SUBJECT,
    property: [
      { type: LEFT_SIDE.code, valueCode: [LEFT_SIDE.valueCodeableConcept] },
      { type: concept(`${BASE}/hip-measure`, 'head-diameter'), valueQuantity: [quantity] },
    ],
  };
}

/** What each set might have held that some rule could care about; or could not, as far as anybody knows. */
const MIGHT_HOLD: Readonly<Record<string, readonly JsonObject[]>> = {
  patient: [{ ...PATIENT, birthDate: '1931-02-03', gender: 'male' }],
  user: [],
  encounter: [],
  conditions: ['G20.A1', 'T84.021A', 'M43.16', 'Z98.1', 'Q65.02', 'M16.12'].map(condition),
  procedures: [
    procedure(PCS, '0SWBXJZ'),
    procedure(SNOMED, '50172003'),
    procedure(SNOMED, '112727005'),
    procedure(SNOMED, '447736005'),
  ],
  measures: [IMPOSSIBLE],
  observations: [
    {
      resourceType: 'Observation',
      id: 'crp',
      status: 'final',
      code: concept('http://loinc.org', '1988-5'),
      subject: SUBJECT,
      effectiveDateTime: '2026-11-20',
      valueQuantity: { value: 90, unit: 'mg/L', system: 'http://unitsofmeasure.org', code: 'mg/L' },
    },
  ],
  // At the chart an implant is a second construct of its own; it changes nothing about the one that is planned.
  devices: [implant(36)],
  deviceUses: [
    {
      resourceType: 'DeviceUseStatement',
      id: 'use',
      status: 'active',
      subject: SUBJECT,
      device: { reference: 'Device/head' },
      bodySite: LEFT,
    },
  ],
  serviceRequests: [
    { ...ORDER, id: 'order-2', status: 'active', bodySite: [RIGHT] },
    { ...ORDER, id: 'order-3', status: 'active', subject: { reference: 'Patient/other' } },
  ],
  deviceRequests: [IMPLANTS],
  questionnaireResponses: [ANSWERED],
  appointments: [
    {
      resourceType: 'Appointment',
      id: 'visit-2',
      status: 'booked',
      participant: [{ actor: SUBJECT, status: 'accepted' }],
      serviceType: [concept(SNOMED, '443435007')],
    },
  ],
};

/**
 * A hip of which everything is measured and planned, and whose cards are none: no measure is left that a missing set
 * might merely have filled in.
 */
const MEASURED: readonly JsonObject[] = (
  testPatient('textbook-hip-fully-measured').bundle['entry'] as readonly { readonly resource: JsonObject }[]
).flatMap(({ resource }) =>
  resource['resourceType'] === 'Observation' ? [{ ...resource, subject: SUBJECT, bodySite: LEFT }] : [],
);
const MEASURES = searchset(...MEASURED);
const ORDERED = searchset({ ...ORDER, status: 'active' });
const CALLS: Readonly<Record<string, HookCall>> = {
  'appointment-book': leftHipVisit({}, { measures: MEASURES, serviceRequests: ORDERED }),
  'order-select': selectCall([ORDER], ['ServiceRequest/order-1'], { measures: MEASURES }),
  'order-sign': orderCall({ prefetch: { measures: MEASURES } }),
  'patient-view': chartCall({
    measures: MEASURES,
    serviceRequests: ORDERED,
    procedures: searchset(procedure(SNOMED, '52734007', { id: 'planned', status: 'preparation' })),
  }),
};

function withSet(call: HookCall, key: string, value: unknown): HookCall {
  return { ...call, prefetch: { ...call.prefetch, [key]: value } };
}

function withoutSet(call: HookCall, key: string): HookCall {
  const { [key]: gone, ...prefetch } = call.prefetch;
  expect(gone).not.toBe(0);
  return { ...call, prefetch };
}

function held(call: HookCall, key: string): readonly JsonObject[] {
  const bundle = call.prefetch[key] as { readonly entry?: readonly { readonly resource: JsonObject }[] };
  return (bundle.entry ?? []).map(({ resource }) => resource);
}

/** What the cards say, apart from the ids that follow from the call. */
function said(cards: readonly WireCard[]): string {
  return JSON.stringify(cards.map(({ summary, detail, indicator }) => [indicator, summary, detail]));
}

/** The sets named on the data-gap card, of which there is one at most. */
function gaps(cards: readonly WireCard[]): readonly string[] {
  const found = cards.filter(({ source }) => source.topic.code === 'data-gap');
  expect(found.length).toBeLessThan(2);
  return found.flatMap((card) =>
    (card.extension['example.kotyle.advisory']['sets'] as readonly { readonly id: string }[]).map(
      ({ id }) => id,
    ),
  );
}

async function couldChange(
  call: HookCall,
  key: string,
  mightHold: readonly JsonObject[] = MIGHT_HOLD[key] ?? [],
): Promise<boolean> {
  const before = said(await cardsFor(call));
  for (const resource of mightHold) {
    const value = key === 'patient' ? resource : searchset(...held(call, key), resource);
    if (said(await cardsFor(withSet(call, key, value))) !== before) return true;
  }
  return false;
}

const SERVICES = publishedServices(false);
const ROWS = SERVICES.flatMap(({ hook, keys }) => keys.map((key) => [hook, key] as const));

describe('every published set of every entry', () => {
  it('stands in the table, and every entry starts without a card', async () => {
    expect(ROWS.length).toBe(8 + 8 + 12 + 8);
    for (const { hook, keys } of SERVICES) {
      expect(await cardsFor(CALLS[hook] ?? orderCall()), hook).toEqual([]);
      for (const key of keys) expect(MIGHT_HOLD).toHaveProperty(key);
    }
  });

  it.each(ROWS)(
    '%s: %s that is absent is told exactly when it could have changed the answer',
    async (hook, key) => {
      const call = CALLS[hook] ?? orderCall();
      const told = await cardsFor(withoutSet(call, key));
      const expected = (await couldChange(withoutEntries(call, key), key)) ? [key] : [];
      expect(gaps(told)).toEqual(expected);
      if (key === 'user' || key === 'encounter') expect(told).toEqual([]);
    },
  );

  it.each(ROWS)(
    '%s: %s that is null or an empty Bundle is none, and never told as missing',
    async (hook, key) => {
      const call = CALLS[hook] ?? orderCall();
      const empty = { resourceType: 'Bundle', type: 'searchset' };
      const answers: string[] = [];
      for (const value of [null, empty, { ...empty, total: 0, entry: [] }]) {
        const cards = await cardsFor(withSet(call, key, value));
        expect(gaps(cards)).toEqual([]);
        answers.push(said(cards));
      }
      expect(new Set(answers).size).toBe(1);
    },
  );
});

/** The same call in which the set came, and held nothing. */
function withoutEntries(call: HookCall, key: string): HookCall {
  return key === 'patient' ? call : withSet(call, key, searchset());
}

/** At the chart of a hip in place that dislocated, what is worn there matters. */
describe('a chart of a dislocated hip', () => {
  const call = chartCall({
    procedures: searchset(procedure(SNOMED, '52734007')),
    conditions: searchset({ ...condition('T84.021A'), onsetDateTime: '2026-08-01' }),
  });

  const measured = planned('cup-inclination', 400, 'deg', {
    category: [
      concept(`${BASE}/measure-stage`, 'postoperative'),
      concept(`${BASE}/measure-group`, 'hip-stability'),
    ],
  });

  it.each([
    ['measures', measured],
    ['devices', implant(360)],
  ] as const)('tells that %s were not read', async (key, resource) => {
    expect(await couldChange(call, key, [resource])).toBe(true);
    expect(gaps(await cardsFor(withoutSet(call, key)))).toContain(key);
    for (const value of [null, searchset()])
      expect(gaps(await cardsFor(withSet(call, key, value)))).toEqual([]);
  });
});

describe('a chart without a token', () => {
  it('names what a record system was not asked for, when it could have mattered', async () => {
    const call = CALLS['patient-view'] ?? chartCall();
    const published = new Set<string>(SERVICES.find(({ hook }) => hook === 'patient-view')?.keys);
    const prefetch = Object.fromEntries(Object.entries(call.prefetch).filter(([key]) => published.has(key)));
    // Integration decisions §2: the rest after recognition, with a token; without one the data-gap card names it.
    expect(gaps(await cardsFor({ ...call, prefetch }))).toContain('measures');
  });
});
