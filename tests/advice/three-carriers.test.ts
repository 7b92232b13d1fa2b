import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { MeasureDefinition } from '../../src/facts/definitions.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Answer } from './patients.js';
import { rulebook } from './patients.js';
import type { PlanSide } from './plan.js';
import type { Plan, Planned, Signing } from './plan-carriers.js';
import {
  asDeviceRequest,
  asObservations,
  asQuestionnaireResponse,
  BASED_ON,
  bundleOf,
  hipGroup,
  replacementOrder,
  rulesOf,
  sign,
  SUBJECT,
  substance,
} from './plan-carriers.js';

// Truth throughout: integration decisions §1, "Carriers without a body site", "Stage", "Definition", and §3,
// "Questionnaire hip-plan". The three ways of stating one plan in radiographic angles give evaluations that are
// byte-identical once provenance is removed.

/** Everything a DeviceRequest can carry. */
const EVERYTHING: Plan = [
  ['cup-inclination', [60, 'deg']],
  ['cup-anteversion', [15, 'deg']],
  ['cup-outer-diameter', [52, 'mm']],
  ['head-diameter', [36, 'mm']],
  ['neck-diameter', [12, 'mm']],
  ['stem-anteversion', [10, 'deg']],
  ['neck-shaft-angle', [131, 'deg']],
  ['liner-type', 'elevated-rim'],
  ['liner-elevation-angle', [10, 'deg']],
  ['liner-elevation-position', [60, 'deg']],
  ['head-center-offset', [-1.5, 'mm']],
  ['bearing-couple', 'ceramic-on-crosslinked-polyethylene'],
  ['surgical-approach', 'posterior'],
  ['soft-tissue-repair', 'capsule-and-rotators'],
  ['femoral-offset-change', [-3.5, 'mm']],
  ['leg-length-change', [12, 'mm']],
  ['neck-length-change', [3.5, 'mm']],
  ['stem-seating-change', [-2, 'mm']],
  ['hip-center-elevation', [4, 'mm']],
  ['hip-center-medialization', [2, 'mm']],
  ['skirted-head', true],
  ['component-retained', 'stem'],
  ['component-retained', 'liner'],
];

const TEXTBOOK: Plan = [
  ['cup-inclination', [40, 'deg']],
  ['cup-anteversion', [20, 'deg']],
  ['stem-anteversion', [15, 'deg']],
  ['head-diameter', [36, 'mm']],
  ['neck-diameter', [12, 'mm']],
];

const DUAL_MOBILITY: Plan = [
  ['cup-inclination', [52, 'deg']],
  ['cup-anteversion', [36, 'deg']],
  ['head-diameter', [28, 'mm']],
  ['mobile-liner-diameter', [46, 'mm']],
  ['neck-diameter', [13, 'mm']],
  ['liner-type', 'dual-mobility'],
  ['surgical-approach', 'direct-anterior'],
];

const PARKINSON: JsonObject = {
  resourceType: 'Condition',
  id: 'parkinson',
  code: { coding: [{ system: 'http://hl7.org/fhir/sid/icd-10-cm', code: 'G20.A1' }] },
  subject: SUBJECT,
};

/** The four places in which one plan may stand, the first of them being the one the others are held against. */
function stated(plan: Plan, side: PlanSide): Readonly<Record<string, Signing>> {
  const order = replacementOrder(side);
  return {
    'as Observations': { drafts: [order], measures: asObservations(plan, side) },
    'as a DeviceRequest being signed': { drafts: [order, asDeviceRequest(plan, side)] },
    'as a DeviceRequest on record': {
      drafts: [order],
      deviceRequests: [asDeviceRequest(plan, side, { status: 'active' })],
    },
    'as an answered questionnaire': {
      drafts: [order],
      questionnaireResponses: [asQuestionnaireResponse(plan, side)],
    },
  };
}

async function substances(ways: Readonly<Record<string, Signing>>): Promise<readonly string[]> {
  return await Promise.all(Object.values(ways).map(async (way) => substance(await sign(way))));
}

const MEASURES: readonly MeasureDefinition[] = rulebook.knowledge.definitions.filter(
  (definition): definition is MeasureDefinition =>
    definition.kind === 'measure' && definition.carriers.includes('order'),
);

describe('one plan, stated in three ways', () => {
  const patients: Readonly<Record<string, Plan>> = {
    'a steep cup with everything a request can carry': EVERYTHING,
    'a textbook hip': TEXTBOOK,
    'dual mobility': DUAL_MOBILITY,
  };
  for (const [name, plan] of Object.entries(patients)) {
    for (const side of ['left', 'right'] as const) {
      for (const conditions of [[], [PARKINSON]]) {
        it(`${name}, ${side}${conditions.length > 0 ? ', with Parkinson disease' : ''}: evaluates to the same bytes`, async () => {
          const ways = stated(plan, side);
          const answers = await Promise.all(
            Object.values(ways).map(async (way) => await sign({ ...way, conditions })),
          );
          const [first = '', ...others] = answers.map(substance);
          for (const [index, other] of others.entries())
            expect(other, Object.keys(ways)[index + 1]).toBe(first);
          // Sameness of nothing would prove nothing: each measure of the plan is in what was written down.
          for (const [measure] of plan) expect(first).toContain(`"id":"${measure}"`);
          for (const answer of answers) expect(rulesOf(answer)).toEqual(rulesOf(answers[0] ?? answer));
        });
      }
    }
  }

  it('is judged the same whatever unit it was written in', async () => {
    const metric = TEXTBOOK.map(([measure, planned]): Plan[number] =>
      measure === 'head-diameter' ? [measure, [3.6, 'cm']] : [measure, planned],
    );
    // Units as found are provenance.
    const [first] = await substances(stated(TEXTBOOK, 'left'));
    for (const other of await substances(stated(metric, 'left'))) expect(other).toBe(first);
  });

  it('leaves its traces in the provenance alone', async () => {
    const ways = Object.values(stated(EVERYTHING, 'left'));
    const whole = await Promise.all(
      ways.map(async (way) => JSON.stringify((await sign(way)).evaluation?.())),
    );
    expect(new Set(whole).size).toBe(ways.length);
  });

  it('holds for random plans over every measure that all three can carry', async () => {
    expect(MEASURES.length).toBeGreaterThan(25);
    const entry = (definition: MeasureDefinition): fc.Arbitrary<Plan> =>
      valuesOf(definition).map((values) => values.map((value) => [definition.id, value] as const));
    const plans = fc
      .subarray([...MEASURES], { minLength: 1 })
      .chain((chosen) => fc.tuple(...chosen.map(entry)))
      .map((parts): Plan => parts.flat());
    await fc.assert(
      fc.asyncProperty(plans, fc.constantFrom<PlanSide>('left', 'right'), async (plan, side) => {
        const [first = '', ...others] = await substances(stated(plan, side));
        for (const other of others) expect(other).toBe(first);
        for (const [measure] of plan) expect(first).toContain(`"id":"${measure}"`);
      }),
      { numRuns: 40 },
    );
  });
});

/** Plausible values of a measure; several of one that repeats. */
function valuesOf(definition: MeasureDefinition): fc.Arbitrary<readonly Planned[]> {
  const { valueType, values = [], repeats, plausible, unit = '1' } = definition;
  if (valueType === 'code' && repeats) return fc.subarray([...values], { minLength: 1 });
  if (valueType === 'code') return fc.constantFrom(...values).map((value) => [value]);
  if (valueType === 'boolean') return fc.boolean().map((flag) => [flag]);
  const { low = 0, high = 100 } = plausible ?? {};
  const tenths = fc.integer({ min: Math.ceil(low * 10), max: Math.floor(high * 10) });
  return tenths.map((value): readonly Planned[] => [[value / 10, unit]]);
}

interface Carrier {
  readonly carry: (plan: Plan, side: PlanSide | undefined) => Omit<Signing, 'drafts'>;
}

const CARRIERS: Readonly<Record<string, Carrier>> = {
  'an Observation': {
    carry: (plan, side) => ({
      measures: asObservations(plan, side ?? 'left', side ? {} : { bodySite: undefined }),
    }),
  },
  'a DeviceRequest': {
    carry: (plan, side) => ({
      deviceRequests: [
        asDeviceRequest(plan, side, { status: 'active', ...(!side && { basedOn: undefined }) }),
      ],
    }),
  },
  'a questionnaire': {
    carry: (plan, side) => ({ questionnaireResponses: [asQuestionnaireResponse(plan, side)] }),
  },
};

async function signWith(carrier: Carrier, plan: Plan, side: PlanSide | undefined): Promise<Answer> {
  const clean = JSON.parse(JSON.stringify(carrier.carry(plan, side))) as Omit<Signing, 'drafts'>;
  return await sign({ ...clean, drafts: [replacementOrder('left')] });
}

function inclination(answer: Answer): unknown {
  return answer.hips.find(({ hip }) => hip === 'left')?.facts.get('cup-inclination')?.state;
}

function notes(answer: Answer): readonly string[] {
  return answer.record?.notes.map(({ why }) => why) ?? [];
}

/** An inclination stated as a `value[x]` of its own among an otherwise unremarkable plan. */
function inclined(...values: readonly Planned[]): Plan {
  return [...values.map((value) => ['cup-inclination', value] as const), ...TEXTBOOK.slice(1)];
}

function quantity(value: number, unit: string, more: JsonObject = {}): JsonObject {
  return { valueQuantity: { value, unit, system: 'http://unitsofmeasure.org', code: unit, ...more } };
}

const IMPOSSIBLE = 'warning measure-implausible-or-conflicting';
const UNREADABLE = 'info record-unreadable';
const SIDE_CONFLICT = 'critical hip-side-conflict';

describe.each(Object.entries(CARRIERS))('%s', (name, carrier) => {
  it('with an impossible value is refused by name, and the value is not used', async () => {
    // Clinical decisions §3: warning for impossible values.
    const answer = await signWith(carrier, inclined(quantity(400, 'deg')), 'left');
    expect(rulesOf(answer)).toEqual([IMPOSSIBLE]);
    expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'refused' });
  });

  it('in a unit of another dimension, or without one, is refused', async () => {
    for (const wrong of [quantity(40, 'mm'), quantity(40, 'kg'), { valueQuantity: { value: 40 } }]) {
      const answer = await signWith(carrier, inclined(wrong), 'left');
      expect(answer.cards).toHaveLength(1);
      expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'refused' });
    }
  });

  it('with a comparator is a bound, never the number', async () => {
    const answer = await signWith(carrier, inclined(quantity(50, 'deg', { comparator: '>' })), 'left');
    expect(inclination(answer)).toMatchObject({
      status: 'present',
      value: { kind: 'quantity', interval: { low: 50 } },
    });
    const state = inclination(answer) as { readonly value: { readonly interval: { readonly high: number } } };
    expect(state.value.interval.high).toBeGreaterThan(50);
  });

  it('that states two values for one angle of one day is a conflict, and neither is used', async () => {
    const answer = await signWith(carrier, inclined([40, 'deg'], [60, 'deg']), 'left');
    // Clinical decisions §3: warning for conflicting values.
    expect(rulesOf(answer)).toEqual([IMPOSSIBLE]);
    expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'conflicting' });
  });

  it('with a measure nobody here knows loses only that, and says so', async () => {
    const known = await signWith(carrier, TEXTBOOK, 'left');
    const answer = await signWith(carrier, [...TEXTBOOK, ['cup-colour', [3, 'mm']]], 'left');
    expect(inclination(answer)).toEqual(inclination(known));
    expect(notes(known)).toEqual([]);
    expect(notes(answer)).toHaveLength(1);
  });

  it('with a coded answer nobody here knows leaves that measure unknown', async () => {
    const answer = await signWith(carrier, [...TEXTBOOK, ['liner-type', 'wobbly']], 'left');
    const state = answer.hips[0]?.facts.get('liner-type')?.state;
    expect(state).toMatchObject({ status: 'unknown', reason: 'refused' });
    expect(rulesOf(answer)).toEqual([UNREADABLE]);
  });

  it('without a side is used for no hip, and that is said once', async () => {
    const answer = await signWith(carrier, inclined([60, 'deg']), undefined);
    expect(rulesOf(answer)).toEqual([UNREADABLE]);
    expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
  });

  it('for the other side of the order it is based on is a critical conflict', async () => {
    const answer = await signWith(carrier, TEXTBOOK, 'right');
    expect(rulesOf(answer)).toEqual([SIDE_CONFLICT]);
    expect(inclination(answer)).toMatchObject({ status: 'unknown' });
  });

  if (name !== 'a questionnaire') {
    // R4 answers have no Range.
    it('with a Range is an interval: it decides only where all of it does', async () => {
      const range = (low: number, high: number): JsonObject => ({
        valueRange: {
          low: { value: low, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
          high: { value: high, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
        },
      });
      const steep = await signWith(carrier, inclined(range(60, 62)), 'left');
      expect(inclination(steep)).toMatchObject({ value: { interval: { low: 60, high: 62 } } });
      expect(rulesOf(steep)).toContain('warning cup-inclination-outside-published');
      const open = await signWith(carrier, inclined(range(50, 62)), 'left');
      expect(rulesOf(open)).not.toContain('warning cup-inclination-outside-published');
    });
  }
});

describe('refused values', () => {
  it('are told in the same words whatever carried them', async () => {
    for (const plan of [
      inclined(quantity(400, 'deg')),
      inclined(quantity(40, 'kg')),
      inclined(quantity(55, 'deg', { comparator: '>=' })),
      inclined([40, 'deg'], [60, 'deg']),
      [...TEXTBOOK, ['liner-type', 'wobbly']] satisfies Plan,
    ]) {
      const [first = '', ...others] = await substances(stated(plan, 'left'));
      for (const other of others) expect(other).toBe(first);
    }
  });
});

describe('an answered questionnaire', () => {
  const STEEP = inclined([60, 'deg']);

  async function answered(...responses: readonly JsonObject[]): Promise<Answer> {
    return await sign({ drafts: [replacementOrder('left')], questionnaireResponses: responses });
  }

  it('that is unfinished is said to exist, and none of its values is used', async () => {
    const answer = await answered(asQuestionnaireResponse(STEEP, 'left', { status: 'in-progress' }));
    expect(notes(answer)).toEqual(['an unfinished plan exists']);
    expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
    expect(answer.cards).toEqual([]);
  });

  it.each(['entered-in-error', 'stopped', undefined])(
    'with status %s is noted and not used',
    async (status) => {
      const response = asQuestionnaireResponse(STEEP, 'left', { status });
      const answer = await answered(JSON.parse(JSON.stringify(response)) as JsonObject);
      expect(notes(answer)).toHaveLength(1);
      expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
    },
  );

  it('that was amended is used as one that was completed', async () => {
    const completed = await answered(asQuestionnaireResponse(STEEP, 'left'));
    const amended = await answered(asQuestionnaireResponse(STEEP, 'left', { status: 'amended' }));
    expect(substance(amended)).toBe(substance(completed));
  });

  it('that carries a modifier nobody here knows, or answers another questionnaire, is not used', async () => {
    const modified = await answered(
      asQuestionnaireResponse(STEEP, 'left', { modifierExtension: [{ url: 'http://example.org/not' }] }),
    );
    expect(notes(modified)).toEqual(['carries a modifier this service does not know']);
    const other = await answered(
      asQuestionnaireResponse(STEEP, 'left', { questionnaire: 'https://example.org/Questionnaire/pain' }),
    );
    for (const answer of [modified, other])
      expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
  });

  it('is known with its version too', async () => {
    const questionnaire = 'https://kotyle.example/fhir/Questionnaire/hip-plan|2026.11.0';
    const answer = await answered(asQuestionnaireResponse(STEEP, 'left', { questionnaire }));
    expect(inclination(answer)).toMatchObject({ status: 'present' });
  });

  it('is replaced by the newest of its side, and only of its side', async () => {
    const old = asQuestionnaireResponse(STEEP, 'left', { id: 'old', authored: '2026-10-01' });
    const both = {
      id: 'both',
      authored: '2026-09-01',
      item: [hipGroup(STEEP, 'left'), hipGroup(inclined([58, 'deg']), 'right')],
      basedOn: undefined,
    };
    const older = JSON.parse(JSON.stringify(asQuestionnaireResponse(STEEP, 'left', both))) as JsonObject;
    const drafts = [replacementOrder('left'), replacementOrder('right', { id: 'order-2' })];
    for (const responses of [
      [old, asQuestionnaireResponse(TEXTBOOK, 'left'), older],
      [older, asQuestionnaireResponse(TEXTBOOK, 'left'), old],
    ]) {
      const answer = await sign({ drafts, questionnaireResponses: responses });
      expect(inclination(answer)).toMatchObject({ value: { interval: { low: 40, high: 40 } } });
      const right = answer.hips.find(({ hip }) => hip === 'right');
      expect(right?.facts.get('cup-inclination')?.state).toMatchObject({
        value: { interval: { low: 58, high: 58 } },
      });
    }
  });

  it('for an order that was revoked does not replace the plan of the order that is open', async () => {
    // Clinical decisions §2, which outrank "newest per side": superseded by a newer plan for the same hip and order.
    const mine = asQuestionnaireResponse(STEEP, 'left', { id: 'mine', authored: '2026-10-01' });
    const stray = asQuestionnaireResponse(TEXTBOOK, 'left', {
      id: 'stray',
      authored: '2026-10-20',
      basedOn: [{ reference: 'ServiceRequest/revoked' }],
    });
    const answer = await sign({
      drafts: [replacementOrder('left')],
      serviceRequests: [replacementOrder('left', { id: 'revoked', status: 'revoked' })],
      questionnaireResponses: [mine, stray],
    });
    expect(inclination(answer)).toMatchObject({ value: { interval: { low: 60, high: 60 } } });
  });

  it('is not counted twice: Observations extracted from it are ignored', async () => {
    const derivedFrom = [{ reference: 'QuestionnaireResponse/plan-1' }];
    const answer = await sign({
      drafts: [replacementOrder('left')],
      questionnaireResponses: [asQuestionnaireResponse(TEXTBOOK, 'left')],
      measures: asObservations(inclined([60, 'deg']), 'left', { derivedFrom }),
    });
    expect(inclination(answer)).toMatchObject({ value: { interval: { low: 40, high: 40 } } });
    expect(answer.cards).toEqual([]);
    const alone = await sign({
      drafts: [replacementOrder('left')],
      measures: asObservations(inclined([60, 'deg']), 'left', { derivedFrom }),
    });
    // Without the response itself, the extract is all there is.
    expect(inclination(alone)).toMatchObject({ value: { interval: { low: 60, high: 60 } } });
  });
});

describe('a DeviceRequest', () => {
  const STEEP = inclined([60, 'deg']);

  it.each<[string, JsonObject]>([
    ['that is only an option', { intent: 'option' }],
    ['that was revoked', { status: 'revoked' }],
    ['that is completed', { status: 'completed' }],
    ['entered in error', { status: 'entered-in-error' }],
    ['with a modifier nobody here knows', { modifierExtension: [{ url: 'http://example.org/not' }] }],
  ])('%s plans nothing, and that is noted', async (_what, more) => {
    const answer = await sign({
      drafts: [replacementOrder('left')],
      deviceRequests: [asDeviceRequest(STEEP, 'left', { status: 'active', ...more })],
    });
    expect(notes(answer).length).toBeGreaterThan(0);
    expect(inclination(answer)).toMatchObject({ status: 'unknown', reason: 'not-recorded' });
    expect(answer.cards).toEqual([]);
  });

  it('without a side takes that of the only hip order of its Bundle, marked as assumed', async () => {
    const unsided = asDeviceRequest(STEEP, undefined);
    const { basedOn, ...loose } = unsided;
    expect(basedOn).toEqual(BASED_ON);
    const answer = await sign({ drafts: [replacementOrder('left'), loose] });
    expect(inclination(answer)).toMatchObject({ value: { interval: { low: 60 } } });
    const fact = answer.hips[0]?.facts.get('cup-inclination');
    expect([...(fact?.remarks ?? []), ...(fact?.assumptions ?? [])].join()).toMatch(/side/);
    const operation = answer.record?.operations.find(({ kind }) => kind === 'implant');
    expect(operation).toMatchObject({ sideFrom: 'inherited', side: { sides: ['left'] } });
  });

  it('without a side among two hip orders is used for neither', async () => {
    const { basedOn, ...loose } = asDeviceRequest(STEEP, undefined);
    expect(basedOn).toEqual(BASED_ON);
    const answer = await sign({
      drafts: [replacementOrder('left'), replacementOrder('right', { id: 'order-2' }), loose],
    });
    for (const { facts } of answer.hips)
      expect(facts.get('cup-inclination')?.state).toMatchObject({ status: 'unknown' });
    expect(rulesOf(answer)).toEqual([UNREADABLE]);
  });

  it('takes the side of the order it is based on before that of the order beside it', async () => {
    const order = replacementOrder('right', { id: 'order-right', status: 'active' });
    const request = asDeviceRequest(STEEP, undefined, {
      basedOn: [{ reference: 'ServiceRequest/order-right' }],
    });
    const answer = await sign({
      drafts: [replacementOrder('left'), request],
      serviceRequests: [order],
    });
    const operation = answer.record?.operations.find(({ kind }) => kind === 'implant');
    expect(operation).toMatchObject({ sideFrom: 'its order', side: { sides: ['right'] } });
    expect(inclination(answer)).toMatchObject({ status: 'unknown' });
  });

  it('with an inherited side is left out of the side check', async () => {
    const group = { system: 'https://record.example/groups', value: 'g-1' };
    const { basedOn, ...loose } = asDeviceRequest(STEEP, undefined, { groupIdentifier: group });
    expect(basedOn).toEqual(BASED_ON);
    const answer = await sign({
      drafts: [replacementOrder('left'), loose],
      serviceRequests: [
        replacementOrder('right', { id: 'order-right', status: 'active', requisition: group }),
      ],
    });
    expect(rulesOf(answer)).not.toContain(SIDE_CONFLICT);
  });

  it('whose parameter contradicts the order it is based on is a critical conflict, also with no measure in it', async () => {
    for (const plan of [STEEP, []]) {
      const drafts = [replacementOrder('left'), asDeviceRequest(plan, 'right')];
      expect(rulesOf(await sign({ drafts })), `${plan.length} measures`).toContain(SIDE_CONFLICT);
    }
  });

  it('belongs to the order that shares its requisition', async () => {
    const group = { system: 'https://record.example/groups', value: 'g-1' };
    const request = (side: PlanSide | undefined): JsonObject => {
      const { basedOn, ...loose } = asDeviceRequest(STEEP, side, {
        groupIdentifier: group,
        status: 'active',
      });
      expect(basedOn).toEqual(BASED_ON);
      return loose;
    };
    const order = replacementOrder('left', { requisition: group });
    const silent = await sign({ drafts: [order], deviceRequests: [request(undefined)] });
    expect(inclination(silent)).toMatchObject({ value: { interval: { low: 60 } } });
    const other = await sign({ drafts: [order], deviceRequests: [request('right')] });
    expect(rulesOf(other)).toContain(SIDE_CONFLICT);
    const elsewhere = replacementOrder('left', { requisition: { ...group, value: 'g-2' } });
    const unlinked = await sign({ drafts: [elsewhere], deviceRequests: [request('right')] });
    // Clinical decisions §2: an unlinked plan for the other side is a data card, never critical.
    expect(rulesOf(unlinked)).toEqual(['info plan-for-other-side']);
  });

  it('of another patient in the orders being signed is an identity conflict, and plans nothing', async () => {
    const stranger = asDeviceRequest(STEEP, 'left', { subject: { reference: 'Patient/other' } });
    const answer = await sign({ drafts: [replacementOrder('left'), stranger] });
    expect(rulesOf(answer)).toEqual(['critical other-patient-record']);
    expect(inclination(answer)).toMatchObject({ status: 'unknown' });
  });

  it('under a catalogue code nobody here knows plans all the same, and is as strictly the patient’s', async () => {
    const codeCodeableConcept = { coding: [{ system: 'https://codes.example/catalogue', code: 'CUP-52' }] };
    const drafted = async (side: PlanSide | undefined, more: JsonObject): Promise<Answer> => {
      const request = asDeviceRequest(STEEP, side, { codeCodeableConcept, ...more });
      const clean = JSON.parse(JSON.stringify(request)) as JsonObject;
      return await sign({ drafts: [replacementOrder('left'), clean] });
    };
    // Side: its parameter, the order it is based on, or the only hip order of the same Bundle.
    for (const own of [
      await drafted('left', {}),
      await drafted(undefined, {}),
      await drafted(undefined, { basedOn: undefined }),
    ])
      expect(inclination(own)).toMatchObject({ value: { interval: { low: 60 } } });
    expect(rulesOf(await drafted('right', {}))).toContain(SIDE_CONFLICT);
    const stranger = await drafted('left', { subject: { reference: 'Patient/other' } });
    expect(rulesOf(stranger)).toEqual(['critical other-patient-record']);
    const nobody = await drafted('left', { subject: undefined });
    expect(rulesOf(nobody)).toEqual([UNREADABLE]);
    for (const answer of [stranger, nobody]) expect(inclination(answer)).toMatchObject({ status: 'unknown' });
  });
});

describe('a plan Bundle in any order', () => {
  it('gives the same evaluation', async () => {
    const drafts = [replacementOrder('left'), asDeviceRequest(EVERYTHING, 'left')];
    const forward = await sign({ drafts });
    const backward = await sign({ drafts: [...drafts].reverse() });
    expect(JSON.stringify(backward.evaluation?.())).toBe(JSON.stringify(forward.evaluation?.()));
    expect(bundleOf('collection', drafts)['entry']).toHaveLength(2);
  });
});
