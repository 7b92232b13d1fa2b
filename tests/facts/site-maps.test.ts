import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/base/canonical-json.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { evaluate } from '../../src/engine/evaluate.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { Fact } from '../../src/facts/fact.js';
import { applyDefaults } from '../../src/facts/site-defaults.js';
import type { SiteDefault } from '../../src/facts/site-defaults.js';
import type { SiteMaps } from '../../src/facts/site-map-index.js';
import { translate } from '../../src/facts/site-maps.js';
import type { Translated } from '../../src/facts/site-translation.js';
import { translateLocated } from '../../src/facts/translate-located.js';
import { bundleEntries } from '../../src/fhir/bundle.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { answerTo, cardNames, inputFor, mapEntries, measureCode, testPatients } from '../advice/patients.js';
import { fhirIssues } from '../oracles/fhir-validity.js';
import { shipped } from '../rulebook/shipped.js';
import type { Case } from './records.js';
import {
  CODE,
  PATIENT,
  SNOMED,
  UCUM,
  coded,
  concept,
  fact,
  findingKinds,
  intervalOf,
  measure,
  order,
  quantity,
  read,
  snomed,
  stateOf,
  without,
} from './records.js';
import {
  ANSWERS,
  MEASURES,
  ORDERS,
  PROBLEMS,
  SITES,
  VISITS,
  line,
  mapOf,
  mapsWith,
  northCampus,
  translatedCall,
} from './sites.js';

const { maps } = northCampus;
const MEASURE = shipped.about.systems.measure;
const VALUE = shipped.about.systems.measureValue;
const STAGE = shipped.about.systems.stage;

/** An Observation as this site's record system writes it: its own code, nothing of ours. */
function local(code: string, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Observation',
    id: code,
    status: 'preliminary',
    code: concept(MEASURES, code),
    subject: PATIENT,
    effectiveDateTime: '2026-11-02',
    bodySite: snomed(CODE.leftHipSite),
    valueQuantity: { value: 50, unit: 'degrees' },
    ...more,
  };
}

function translatedCase(given: Case, by: SiteMaps = maps): Case {
  const each = (list: readonly JsonObject[] = []): readonly JsonObject[] =>
    list.map((resource) => translate(resource, by).resource);
  return { ...given, orders: each(given.orders ?? [order()]), measures: each(given.measures) };
}

const codesOf = (value: unknown): readonly string[] =>
  ((value as { coding?: { system: string; code: string }[] } | undefined)?.coding ?? []).map(
    ({ system, code }) => `${system}|${code}`,
  );

// Truth: integration decisions §4, local codes; and R4 ConceptMap (http://hl7.org/fhir/R4/conceptmap.html).
describe('an order with a local code', () => {
  it('gets the standard code beside its own, and says which map did it', () => {
    const done = translate(order({ code: concept(ORDERS, 'THA') }), maps);
    expect(codesOf(done.resource['code'])).toEqual([`${ORDERS}|THA`, `${SNOMED}|${CODE.totalHip}`]);
    expect(done.mapped).toEqual([
      { element: 'ServiceRequest.code', system: ORDERS, code: 'THA', map: 'maps/orders.json' },
    ]);
    expect(done.assumed).toEqual([]);
  });

  it('is recognised through it; a hemiarthroplasty as what it is', () => {
    const kind = (code: string): unknown =>
      read(translatedCase({ orders: [order({ code: concept(ORDERS, code) })] })).operations[0]?.kind;
    expect(kind('THA')).toBe('primary');
    expect(kind('THA-REV')).toBe('revision');
    expect(kind('HEMI')).toBe('other-hip');
    expect(kind('KNEE')).toBeUndefined();
  });

  it.each([
    ['THA-L', [], { kind: 'sides', sides: ['left'] }],
    ['THA-L', [snomed(CODE.leftHipSite)], { kind: 'sides', sides: ['left'] }],
    ['THA-B', [], { kind: 'sides', sides: ['left', 'right'] }],
    ['THA', [concept(SITES, 'HIP-R')], { kind: 'sides', sides: ['right'] }],
    ['THA', [concept(SITES, 'B')], { kind: 'sides', sides: ['left', 'right'] }],
  ] as const)('%s at %j names its side', (code, bodySite, side) => {
    const given = order({ code: concept(ORDERS, code), bodySite });
    expect(read(translatedCase({ orders: [given] })).operations[0]?.side).toEqual(side);
  });

  it('that names one side and sits at the other contradicts itself, and is no operation of both hips', () => {
    // Truth: integration decisions §1: statements of one resource that contradict are a conflict.
    const given = order({ code: concept(ORDERS, 'THA-L'), bodySite: [snomed(CODE.rightHipSite)] });
    expect(read(translatedCase({ orders: [given] })).operations[0]?.side.kind).toBe('conflict');
  });

  it('is found in a procedure, an implant order and inside a visit alike', () => {
    const code = concept(ORDERS, 'THA');
    for (const [resource, element] of [
      [{ resourceType: 'Procedure', code }, 'Procedure.code'],
      [{ resourceType: 'DeviceRequest', codeCodeableConcept: code }, 'DeviceRequest.codeCodeableConcept'],
      [{ resourceType: 'Appointment', contained: [order({ code })] }, 'Appointment.contained'],
    ] as const) {
      const done = translate(resource, maps);
      expect(JSON.stringify(done.resource), element).toContain(CODE.totalHip);
      expect(done.mapped.map((each) => each.code)).toEqual(['THA']);
    }
  });
});

describe('a visit with a local code', () => {
  const visit = (more: JsonObject): JsonObject => ({
    resourceType: 'Appointment',
    id: 'visit',
    status: 'proposed',
    participant: [{ actor: PATIENT, status: 'needs-action' }],
    ...more,
  });
  const recognised = (more: JsonObject): string =>
    read({ hook: 'appointment-book', appointments: [translate(visit(more), maps).resource] }).recognised;
  const reason = [concept('http://hl7.org/fhir/sid/icd-10-cm', 'M16.12')];

  it.each([
    [{ serviceType: [concept(VISITS, 'HIP-OP')] }, 'yes'],
    [{ appointmentType: concept(VISITS, 'HIP-OP') }, 'yes'],
    [{ appointmentType: concept(VISITS, 'HIP-BOOK') }, 'yes'],
    [{ reasonCode: [concept(VISITS, 'HIP-OP')] }, 'yes'],
    [{ serviceType: [concept(VISITS, 'ORTHO-OP')], reasonCode: reason }, 'yes'],
    [{ appointmentType: concept(VISITS, 'ORTHO-OP'), reasonCode: reason }, 'yes'],
    [{ serviceType: [concept(VISITS, 'ORTHO-OP')] }, 'no'],
    [{ reasonCode: reason }, 'no'],
    // A type among the reasons is no type: the diagnosis would then stand alone.
    [{ reasonCode: [concept(VISITS, 'ORTHO-OP'), ...reason] }, 'no'],
  ])('%j is a hip replacement: %s', (more, expected) => {
    expect(recognised(more)).toBe(expected);
  });

  it('that only books one is not an order for one', () => {
    expect(translate(order({ code: concept(VISITS, 'HIP-BOOK') }), maps).mapped).toEqual([]);
  });
});

describe('a local measure', () => {
  it('becomes one of ours: code, group, stage, definition, side, unit; each supplied part is named', () => {
    const given = without(local('CUP-INC-L'), 'bodySite');
    const done = translate(given, maps);
    expect(done.resource).toEqual({
      ...given,
      code: {
        coding: [...(given['code'] as { coding: [] }).coding, { system: MEASURE, code: 'cup-inclination' }],
      },
      category: [
        concept('https://kotyle.example/fhir/CodeSystem/measure-group', 'hip-stability'),
        concept(STAGE, 'planned'),
      ],
      bodySite: snomed(CODE.leftHipSite),
      valueQuantity: { value: 50, unit: 'degrees', system: UCUM, code: 'deg' },
    });
    expect(done.assumed).toEqual(['stage', 'side', 'unit']);
    expect(done.assumptions).toEqual([
      "stage planned by the site's map",
      "left side by the site's map",
      "unit deg by the site's map",
    ]);
    expect(done.asFound).toEqual({ value: '50', unit: 'degrees' });
    expect(fhirIssues(done.resource)).toEqual([]);
  });

  it('is read like the same plan in our own codes', () => {
    const ours = fact('cup-inclination', {
      measures: [
        measure('cup-inclination', quantity(50, 'deg'), { with: { 'angle-definition': 'radiographic' } }),
      ],
    });
    const theirs = fact('cup-inclination', translatedCase({ measures: [local('CUP-INC')] }));
    expect(theirs.state).toEqual(ours.state);
    expect(theirs.qualifiers).toEqual(ours.qualifiers);
    expect(theirs.stage).toBe('planned');
    expect(stateOf('cup-inclination', { measures: [local('CUP-INC')] })).toBe('not-recorded');
  });

  it('keeps the stage it states, and says that the map says otherwise', () => {
    const done = translate(local('CUP-INC', { category: [concept(STAGE, 'postoperative')] }), maps);
    const stages = (done.resource['category'] as readonly JsonObject[]).flatMap(codesOf);
    expect(stages.filter((each) => each.startsWith(STAGE))).toEqual([`${STAGE}|postoperative`]);
    expect(done.assumed).not.toContain('stage');
    expect(done.remarks).toEqual(["stage kept as recorded, the site's map says otherwise"]);
  });

  it('keeps a definition it states, in our code or in a local one', () => {
    const component = (coded: JsonObject): JsonObject => ({
      component: [{ code: concept(MEASURES, 'DEF'), valueCodeableConcept: coded }],
    });
    for (const coded of [concept(ANSWERS, 'OPR'), concept(VALUE, 'operative')]) {
      const given = local('CUP-INC', component(coded));
      const done = translate(given, maps);
      expect(done.assumed).toEqual(['stage', 'unit']);
      expect(done.remarks).toHaveLength(1);
      const read = fact('cup-inclination', translatedCase({ measures: [given] }));
      expect(read.qualifiers).toEqual({ 'angle-definition': 'operative' });
    }
    const same = translate(local('CUP-INC', component(concept(ANSWERS, 'RAD'))), maps);
    expect([same.assumed, same.remarks]).toEqual([['stage', 'unit'], []]);
  });

  it('refuses a definition it states and nobody can read, instead of taking the map’s', () => {
    const component = [{ code: concept(MEASURES, 'DEF'), valueCodeableConcept: { text: 'operative' } }];
    expect(stateOf('cup-inclination', translatedCase({ measures: [local('CUP-INC', { component })] }))).toBe(
      'refused',
    );
  });

  it('takes its side from the code only without another; one that disagrees is a contradiction', () => {
    // Truth: integration decisions §1, the side: every statement is collected, then compared.
    const kinds = (bodySite: unknown): readonly string[] =>
      findingKinds(translatedCase({ measures: [local('CUP-INC-L', { bodySite })] }));
    expect(kinds(undefined)).toEqual([]);
    expect(kinds(snomed(CODE.hipSite))).toEqual([]);
    expect(kinds(snomed(CODE.leftHipSite))).toEqual([]);
    expect(kinds(snomed(CODE.rightHipSite))).toEqual(['side-contradiction']);
    expect(kinds([snomed(CODE.rightHipSite)])).toEqual(['side-contradiction']);
    expect(kinds(concept(SITES, 'R'))).toEqual(['side-contradiction']);
    expect(translate(local('CUP-INC-L'), maps).assumed).not.toContain('side');
  });

  it('is turned around where the map says so, bounds and ranges with it, and keeps what was found', () => {
    const read = (more: JsonObject): readonly [readonly number[] | undefined, Translated['asFound']] => {
      const whole = { ...without(local('CUP-RETRO'), 'valueQuantity'), ...more };
      const found = fact('cup-anteversion', translatedCase({ measures: [whole] }));
      return [intervalOf(found), translate(whole, maps).asFound];
    };
    const deg = (value: number, more: JsonObject = {}): JsonObject => ({ value, unit: '°', ...more });
    expect(read({ valueQuantity: deg(12) })).toEqual([[-12, -12], { value: '12', unit: '·' }]);
    expect(read({ valueQuantity: deg(0) })[0]).toEqual([0, 0]);
    expect(Object.is(read({ valueQuantity: deg(0) })[0]?.[0], 0)).toBe(true);
    expect(read({ valueQuantity: deg(5, { comparator: '<' }) })[0]).toEqual([-5, Infinity]);
    expect(read({ valueQuantity: deg(5, { comparator: '>=' }) })[0]).toEqual([-Infinity, -5]);
    const range = { low: deg(-20), high: deg(-5) };
    expect(read({ valueRange: range })).toEqual([[5, 20], { value: '-20 to -5', unit: '·' }]);
    expect(read({ valueRange: { low: deg(3) } })[0]).toEqual([-Infinity, -3]);
  });

  it('gets a unit only where none is stated: another unit is never taken for the map’s', () => {
    const head = (valueQuantity: JsonObject): readonly number[] | string => {
      const given = translatedCase({ measures: [local('HEAD', { valueQuantity })] });
      return intervalOf(fact('head-diameter', given)) ?? stateOf('head-diameter', given);
    };
    expect(head({ value: 36 })).toEqual([36, 36]);
    expect(head({ value: 36, unit: 'mm' })).toEqual([36, 36]);
    expect(head({ value: 36, unit: 'millimetres' })).toEqual([36, 36]);
    expect(head({ value: 36, code: 'MM', system: 'https://codes.example/units' })).toEqual([36, 36]);
    expect(head({ value: 3.6, unit: 'cm', system: UCUM, code: 'cm' })).toEqual([36, 36]);
    expect(head({ value: 3.6, unit: 'cm' })).toBe('refused');
    expect(head({ value: 3.6, code: 'cm' })).toBe('refused');
    expect(head({ value: 36, unit: 'kg' })).toBe('refused');
    // German for degrees; in UCUM it would spell a billion radians.
    const angle = local('CUP-INC', { valueQuantity: { value: 40, unit: 'Grad' } });
    expect(intervalOf(fact('cup-inclination', translatedCase({ measures: [angle] })))).toEqual([40, 40]);
    const radians = local('CUP-INC', { valueQuantity: { value: 0.7, unit: 'rad' } });
    expect(stateOf('cup-inclination', translatedCase({ measures: [radians] }))).toBe('refused');
  });

  it('with a local answer gets ours', () => {
    const approach = (code: string): JsonObject => {
      return { ...without(local('APPROACH'), 'valueQuantity'), valueCodeableConcept: concept(ANSWERS, code) };
    };
    const found = fact('surgical-approach', translatedCase({ measures: [approach('PA')] }));
    expect(found.state).toEqual({ status: 'present', value: { kind: 'code', codes: ['posterior'] } });
    expect(stateOf('surgical-approach', translatedCase({ measures: [approach('LATERAL?')] }))).toBe(
      'refused',
    );
  });

  it('with two local codes that mean different things is refused, whatever differs', () => {
    const two = (...codes: readonly string[]): Case =>
      translatedCase({
        measures: [
          local('CUP-INC', { code: concept(MEASURES, ...codes), category: [concept(STAGE, 'planned')] }),
        ],
      });
    expect(findingKinds(two('CUP-INC', 'CUP-VER'))).toEqual(['measure-unreadable']);
    expect(findingKinds(two('CUP-VER', 'CUP-RETRO'))).toEqual(['measure-unreadable']);
    expect(stateOf('cup-anteversion', two('CUP-VER', 'CUP-RETRO'))).toBe('refused');
    expect(findingKinds(two('CUP-INC', 'CUP-INC-OP'))).toEqual(['measure-unreadable']);
  });

  it('that already carries our code is left to speak for itself', () => {
    const given = measure('cup-inclination', quantity(40, 'deg'));
    const both = {
      ...given,
      code: {
        coding: [...(given['code'] as { coding: [] }).coding, { system: MEASURES, code: 'CUP-RETRO' }],
      },
    };
    expect(translate(both, maps).resource).toBe(both);
  });
});

describe('other carriers', () => {
  it('a diagnosis gets the code of the rulebook', () => {
    const conditions = [
      { resourceType: 'Condition', id: 'c', code: concept(PROBLEMS, 'PARK'), subject: PATIENT },
    ];
    const given = { conditions: conditions.map((each) => translate(each, maps).resource) };
    expect(stateOf('parkinson-disease', given)).toBe('present');
    expect(stateOf('parkinson-disease', { conditions })).toBe('absent');
  });

  it('a diagnosis without any standard code gets one of ours, and keeps its side', () => {
    // Truth: clinician, clinical decisions §1: a reaction to metal debris is a trigger, and no standard code names it.
    const own = shipped.about.systems.diagnosis;
    const led = mapsWith(mapOf(PROBLEMS, own, line('ALTR', 'metal-debris-reaction')));
    const given = {
      resourceType: 'Condition',
      id: 'c',
      code: concept(PROBLEMS, 'ALTR'),
      bodySite: [snomed(CODE.leftHipSite)],
      subject: PATIENT,
    };
    expect(stateOf('metal-debris-reaction', { conditions: [translate(given, led).resource] })).toBe(
      'present',
    );
    expect(stateOf('metal-debris-reaction', { conditions: [given] })).toBe('absent');
    const right = { ...given, bodySite: [snomed(CODE.rightHipSite)] };
    expect(stateOf('metal-debris-reaction', { conditions: [translate(right, led).resource] })).toBe('absent');
  });

  it('a parameter of an implant order gets its measure and answer, but nothing it has no place for', () => {
    const parameter = (code: string, more: JsonObject): JsonObject => ({
      code: concept(MEASURES, code),
      ...more,
    });
    const given = {
      resourceType: 'DeviceRequest',
      parameter: [
        parameter('HEAD', { valueQuantity: { value: 36, unit: 'mm', system: UCUM, code: 'mm' } }),
        parameter('APPROACH', { valueCodeableConcept: concept(ANSWERS, 'PA') }),
        parameter('CUP-INC', { valueQuantity: { value: 40, unit: 'deg', system: UCUM, code: 'deg' } }),
        // Operative angles, sides, signs and missing units need an Observation.
        parameter('CUP-INC-OP', { valueQuantity: { value: 40, unit: 'deg', system: UCUM, code: 'deg' } }),
        parameter('CUP-INC-L', { valueQuantity: { value: 40, unit: 'deg', system: UCUM, code: 'deg' } }),
        parameter('CUP-RETRO', { valueQuantity: { value: 40, unit: 'deg', system: UCUM, code: 'deg' } }),
        parameter('HEAD', { valueQuantity: { value: 36 } }),
      ],
    };
    const done = translate(given, maps);
    expect(done.mapped.map(({ element, code }) => `${element} ${code}`)).toEqual([
      'DeviceRequest.parameter.code HEAD',
      'DeviceRequest.parameter.code APPROACH',
      'DeviceRequest.parameter.valueCodeableConcept PA',
      'DeviceRequest.parameter.code CUP-INC',
    ]);
  });

  it('an answer of a questionnaire is put in our words, however deep it stands', () => {
    const given = {
      resourceType: 'QuestionnaireResponse',
      status: 'completed',
      item: [
        {
          linkId: 'hip',
          item: [
            {
              linkId: 'surgical-approach',
              answer: [{ valueCoding: { system: ANSWERS, code: 'DAA', display: 'front' } }],
            },
          ],
        },
      ],
    };
    const done = translate(given, maps);
    expect(JSON.stringify(done.resource)).toContain(
      JSON.stringify({ system: VALUE, code: 'direct-anterior', display: 'front' }),
    );
    expect(done.mapped).toEqual([
      {
        element: 'QuestionnaireResponse.item.item.answer.valueCoding',
        system: ANSWERS,
        code: 'DAA',
        map: 'maps/answers.json',
      },
    ]);
    expect(fhirIssues(done.resource)).toEqual([]);
  });
});

/** The test patient's order with this site's code in place of the standard one. */
function recoded(bundle: JsonObject, code: JsonObject): JsonObject {
  return mapEntries(bundle, (resource) =>
    resource['resourceType'] === 'ServiceRequest' ? { ...resource, code } : resource,
  );
}

const hasPlainOrder = (bundle: JsonObject): boolean =>
  (bundle['entry'] as readonly { resource: JsonObject }[])
    .filter(({ resource }) => resource['resourceType'] === 'ServiceRequest')
    .every(({ resource }) => codesOf(resource['code']).join() === `${SNOMED}|${CODE.totalHip}`);

// Truth: integration decisions §6: the same patient gives the same cards however the record system writes it.
describe('a patient whose order carries only a local code', () => {
  const threeLines = mapsWith(mapOf(ORDERS, SNOMED, line('THA', CODE.totalHip)));
  const cases = testPatients().flatMap(({ name, bundle, expected }) =>
    Object.entries(expected.cards).flatMap(([hook, cards]) =>
      // At the chart a hip replaced long ago speaks without any order.
      cards.length > 0 && hook !== 'patient-view' && hasPlainOrder(bundle)
        ? [[name, hook, bundle] as const]
        : [],
    ),
  );

  it('is well represented', () => {
    expect(cases.length).toBeGreaterThan(15);
  });

  it.each(cases)(
    '%s at %s: no card without a map, the very same cards with one',
    async (_name, hook, bundle) => {
      const standard = inputFor(bundle, hook);
      const input = inputFor(recoded(bundle, concept(ORDERS, 'THA')), hook);
      if (!input || !standard) throw new Error('nothing to ask');
      expect((await answerTo(input)).cards).toEqual([]);
      const { context, prefetch, changed } = translatedCall(input, threeLines);
      expect(changed).toBeGreaterThan(0);
      const [mapped, known] = [await answerTo({ ...input, context, prefetch }), await answerTo(standard)];
      expect(known.cards.length).toBeGreaterThan(0);
      expect(canonicalJson(mapped.cards)).toBe(canonicalJson(known.cards));
    },
  );

  it('gives the same advice when the whole plan is in local codes', async () => {
    const localCode: Readonly<Record<string, string>> = {
      'cup-inclination': 'CUP-INC',
      'cup-anteversion': 'CUP-VER',
      'head-diameter': 'HEAD',
      'neck-diameter': 'NECK',
    };
    const patient = testPatients().find(({ name }) => name === 'demo-parkinson-steep-cup');
    const standard = patient && inputFor(patient.bundle, 'order-sign');
    const measures = standard?.prefetch['measures'] as JsonObject;
    const localMeasures = mapEntries(measures, (resource) => {
      const code = localCode[measureCode(resource) ?? ''];
      if (code === undefined) return resource;
      const rest = without(resource, 'category', 'component');
      const { value } = resource['valueQuantity'] as { value: number };
      return { ...rest, code: concept(MEASURES, code), valueQuantity: { value } };
    });
    if (!standard) throw new Error('no patient');
    const input = { ...standard, prefetch: { ...standard.prefetch, measures: localMeasures } };
    const { context, prefetch, changed } = translatedCall(input, maps);
    expect(changed).toBe(4);
    const [known, unread, mapped] = [
      await answerTo(standard),
      await answerTo(input),
      await answerTo({ ...input, context, prefetch }),
    ];
    const told = (answer: typeof known): unknown =>
      answer.cards.map(({ uuid, summary }, index) => [uuid, summary, cardNames(answer)[index]]);
    expect(told(mapped)).toEqual(told(known));
    expect(told(unread)).not.toEqual(told(known));
  });
});

describe('what a map or a default supplied', () => {
  it('makes the data assumed, not partial, and is told with the fact', async () => {
    // Truth: the design, assumptions are spoken: they stand in the result and make data confidence assumed.
    const given = (id: string, value: JsonObject): JsonObject =>
      measure(id, value, { more: { status: 'preliminary' } });
    const plan = [
      given('cup-inclination', quantity(62, 'deg')),
      given('liner-type', coded('neutral')),
      given('head-diameter', quantity(36, 'mm')),
      given('head-center-offset', quantity(0, 'mm')),
    ];
    const record = read({ measures: plan });
    const assumed: Fact = {
      ...fact('cup-inclination', { measures: plan }),
      assumptions: ['stage by the map'],
    };
    const fired = async (from: typeof record): Promise<readonly unknown[]> => {
      const { hips } = await evaluate({
        record: from,
        rulebook: shipped,
        entry: 'order-sign',
        decide: jsonRulesDecide(shipped.rules),
        computations: COMPUTATIONS,
      });
      const advisory = hips[0]?.advisories.find(({ rule }) => rule === 'cup-inclination-outside-published');
      return [advisory?.fired?.data, advisory?.fired?.assumptions.includes('stage by the map')];
    };
    const hips = record.hips.map((hip) => ({
      ...hip,
      facts: new Map([...hip.facts, [assumed.id, assumed] as const]),
    }));
    expect(await fired(record)).toEqual(['complete', false]);
    expect(await fired({ ...record, hips })).toEqual(['assumed', true]);
  });

  const facts = (given: Case): ReadonlyMap<string, Fact> =>
    read(given).hips[0]?.facts ?? new Map<string, Fact>();

  it('a default stands in for what a plan leaves out, marked', () => {
    const after = applyDefaults(facts({}), northCampus.defaults, 'planned');
    expect(after.get('surgical-approach')).toMatchObject({
      state: { status: 'present', value: { kind: 'code', codes: ['posterior'] } },
      stage: 'planned',
      assumptions: ['surgical approach posterior, site default'],
      provenance: { from: [] },
    });
  });

  it('a default never replaces what is recorded, refused, contradicted or was not read, nor what is in place', () => {
    const approach = (value: string, id = 'a'): JsonObject =>
      measure('surgical-approach', { valueCodeableConcept: concept(VALUE, value) }, { id });
    for (const given of [
      { measures: [approach('direct-anterior')] },
      { measures: [approach('sideways')] },
      { measures: [approach('posterior', 'a'), approach('direct-anterior', 'b')] },
      { prefetch: { measures: undefined } },
    ]) {
      const before = facts(given);
      expect(applyDefaults(before, northCampus.defaults, 'planned')).toBe(before);
    }
    const before = facts({ construct: 'in-place' });
    expect(applyDefaults(before, northCampus.defaults, 'in-place')).toBe(before);
  });

  it('a default is nothing to a component that the plan leaves in place', () => {
    // Truth: clinical decisions §2: what is not exchanged comes from the construct in place.
    const head: SiteDefault = {
      fact: { ...fact('surgical-approach', {}), id: 'head-diameter' },
      partOf: ['head'],
    };
    const retained = (...parts: readonly string[]): ReadonlyMap<string, Fact> =>
      facts({ measures: parts.map((part) => measure('component-retained', coded(part), { id: part })) });
    for (const [parts, stays] of [
      [['head'], true],
      [['cup', 'head'], true],
      [['cup'], false],
      [[], false],
    ] as const) {
      const before = retained(...parts);
      expect(applyDefaults(before, [head], 'planned') === before, parts.join()).toBe(stays);
    }
  });
});

/** JSON of any shape, thick with the members and codes that translation looks at. */
const localCodes: readonly JsonObject[] = (
  [
    [ORDERS, ['THA', 'THA-L', 'THA-B']],
    [VISITS, ['HIP-OP', 'ORTHO-OP']],
    [MEASURES, ['CUP-INC', 'CUP-RETRO', 'CUP-INC-L', 'CUP-INC-OP', 'HEAD', 'APPROACH', 'DEF']],
    [ANSWERS, ['PA', 'OPR', 'RAD']],
    [SITES, ['L', 'R', 'HIP-L']],
    [PROBLEMS, ['PARK']],
    [MEASURE, ['cup-inclination', 'angle-definition']],
    [VALUE, ['operative']],
    [STAGE, ['planned', 'native']],
    [SNOMED, [CODE.rightHipSite, CODE.left]],
    ['http://hl7.org/fhir/sid/icd-10-cm', ['M16.12']],
  ] as const
).flatMap(([system, codes]) => codes.map((code) => ({ system, code })));
const anyCoding = fc.oneof({ weight: 8, arbitrary: fc.constantFrom(...localCodes) }, fc.jsonValue());
const anyConcept = fc.oneof(
  { weight: 8, arbitrary: fc.record({ coding: fc.array(anyCoding, { maxLength: 3 }) }) },
  fc.jsonValue(),
);
const anyQuantity = fc.oneof(
  {
    weight: 6,
    arbitrary: fc.record(
      {
        value: fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.string()),
        unit: fc.constantFrom('mm', 'deg', 'cm', 'degrees', ''),
        comparator: fc.constantFrom('<', '>=', 'ad'),
        system: fc.constantFrom(UCUM, 'https://codes.example/units'),
        code: fc.constantFrom('mm', 'deg', 'X'),
      },
      { requiredKeys: [] },
    ),
  },
  fc.jsonValue(),
);
const oneOrMany = (item: fc.Arbitrary<unknown>): fc.Arbitrary<unknown> =>
  fc.oneof(item, fc.array(item, { maxLength: 3 }));
const holder = (more: Readonly<Record<string, fc.Arbitrary<unknown>>>): fc.Arbitrary<JsonObject> =>
  fc.record({ code: anyConcept, valueCodeableConcept: anyConcept, ...more }, { requiredKeys: ['code'] });
const anyAnswers = fc.array(fc.record({ valueCoding: anyCoding }), { maxLength: 2 });
const anyResource: fc.Arbitrary<JsonObject> = fc.record(
  {
    resourceType: fc.constantFrom(
      'Observation',
      'Observation',
      'ServiceRequest',
      'DeviceRequest',
      'Procedure',
      'Condition',
      'Appointment',
      'QuestionnaireResponse',
      'Patient',
    ),
    code: anyConcept,
    codeCodeableConcept: anyConcept,
    bodySite: oneOrMany(anyConcept),
    orderDetail: oneOrMany(anyConcept),
    category: oneOrMany(anyConcept),
    serviceType: oneOrMany(anyConcept),
    appointmentType: anyConcept,
    reasonCode: oneOrMany(anyConcept),
    component: oneOrMany(holder({})),
    parameter: oneOrMany(holder({ valueQuantity: anyQuantity })),
    valueQuantity: anyQuantity,
    valueRange: fc.record({ low: anyQuantity, high: anyQuantity }),
    valueInteger: fc.oneof(fc.integer(), fc.string()),
    valueCodeableConcept: anyConcept,
    modifierExtension: fc.jsonValue(),
    contained: oneOrMany(holder({ resourceType: fc.constant('ServiceRequest') })),
    item: oneOrMany(fc.record({ answer: anyAnswers, item: fc.array(fc.record({ answer: anyAnswers })) })),
  },
  { requiredKeys: ['resourceType'] },
);

/** Values that translation restates (a unit, a direction, an answer in our words); what they were is kept beside them. */
const RESTATED = /\.value(Quantity|Range|Integer|Coding)(\.|$)/;

/** Paths of members that were there before and are not, or are something else, after. */
function lost(before: unknown, after: unknown, path = ''): readonly string[] {
  if (typeof before !== 'object' || before === null)
    return Object.is(before, after) || RESTATED.test(path) ? [] : [path];
  // A lone object where R4 has a list becomes its first item.
  const same = Array.isArray(after) && !Array.isArray(before) ? (after as readonly unknown[])[0] : after;
  if (typeof same !== 'object' || same === null) return [path];
  return Object.entries(before).flatMap(([name, member]) =>
    Object.hasOwn(same, name)
      ? lost(member, (same as JsonObject)[name], `${path}.${name}`)
      : [`${path}.${name}`],
  );
}

describe('translation, whatever it is given', () => {
  it('takes nothing away, leaves its input alone, and does nothing a second time', () => {
    let changed = 0;
    fc.assert(
      fc.property(anyResource, (resource) => {
        const before = JSON.stringify(resource);
        const once = translate(resource, maps);
        expect(JSON.stringify(resource)).toBe(before);
        // The values of primitive members at the top, such as a value standing where a list belongs, stay in the list.
        expect(
          lost(resource, once.resource).filter((path) => !isWrapped(resource, once.resource, path)),
        ).toEqual([]);
        expect(once.mapped.length > 0).toBe(once.resource !== resource);
        const twice = translate(once.resource, maps);
        expect(twice.resource).toBe(once.resource);
        expect(twice.mapped).toEqual([]);
        if (once.resource !== resource) changed += 1;
      }),
      { numRuns: 3000, seed: 20261124 },
    );
    expect(changed).toBeGreaterThan(500);
  });

  it('never throws on any JSON', () => {
    fc.assert(
      fc.property(fc.jsonValue(), anyResource, (value, resource) => {
        translate({ ...resource, item: value, component: value, code: value }, maps);
        translate({ ...resource, item: value, parameter: value, contained: value }, maps);
      }),
      { numRuns: 1000, seed: 20261124 },
    );
  });

  it('gives the very same objects back without a map, and where no code is local', () => {
    const resources = testPatients().flatMap(({ bundle }) => bundleEntries(bundle));
    expect(resources.length).toBeGreaterThan(100);
    for (const by of [mapsWith(), maps]) {
      for (const located of resources) {
        expect(translateLocated(located, by)).toBe(located);
        expect(translate(located.resource, by).resource).toBe(located.resource);
      }
    }
  });
});

/** A primitive that stood where a list belongs is the list's first item now. */
function isWrapped(before: JsonObject, after: JsonObject, path: string): boolean {
  const name = path.slice(1);
  const list = after[name];
  return Array.isArray(list) && Object.is(list[0], before[name]);
}
