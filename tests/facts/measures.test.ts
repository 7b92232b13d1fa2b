import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { canonicalJson } from '../../src/base/canonical-json.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Case, MeasureOptions } from './records.js';
import {
  CODE,
  UCUM,
  coded,
  concept,
  fact,
  findingKinds,
  findings,
  hipOf,
  intervalOf,
  measure,
  order,
  quantity,
  read,
  searchset,
  snomed,
  stateOf,
  without,
} from './records.js';

const cup = (value: number, options: MeasureOptions = {}): JsonObject =>
  measure('cup-inclination', quantity(value, 'deg'), options);
const film = (id: string, value: number, date: string, method?: string): JsonObject =>
  cup(value, { id, date, stages: ['postoperative'], ...(method !== undefined && { with: { method } }) });
const inPlace = (...measures: readonly JsonObject[]): Case => ({ measures, construct: 'in-place' });

// Truth: integration decisions §1, "Stage".
describe('the stage of a measure', () => {
  it('is its one stage category, and planned is never mixed with what is in place', () => {
    const both = [cup(60, { id: 'a' }), cup(40, { id: 'b', stages: ['postoperative'] })];
    expect(intervalOf(fact('cup-inclination', { measures: both }))).toEqual([60, 60]);
    expect(intervalOf(fact('cup-inclination', inPlace(...both)))).toEqual([40, 40]);
    expect(fact('cup-inclination', { measures: both }).stage).toBe('planned');
  });

  it.each<[string, readonly string[]]>([
    ['missing', []],
    ['stated twice', ['planned', 'postoperative']],
    ['of a kind this measure has not', ['native']],
  ])('when %s leaves the measure out, with a note and not a word of guessing', (_what, stages) => {
    const given = { measures: [cup(60, { stages })] };
    expect(stateOf('cup-inclination', given)).toBe('not-recorded');
    expect(read(given).notes.map(({ from }) => from)).toEqual(['Observation/cup-inclination']);
  });

  it.each([[[]], [['native', 'planned']], [['native']]])(
    'as %j does not matter for a measure that is only ever native',
    (stages) => {
      const measures = [measure('native-femoral-anteversion', quantity(15, 'deg'), { stages })];
      expect(intervalOf(fact('native-femoral-anteversion', { measures }))).toEqual([15, 15]);
    },
  );

  it.each([[[]], [['native', 'postoperative']], [['native']]])(
    'as %j does not matter for a measure of the patient, nor does a body site',
    (stages) => {
      const measures = [
        measure('pelvic-incidence', quantity(54, 'deg'), {
          stages,
          more: { bodySite: snomed(CODE.rightHipSite) },
        }),
      ];
      expect(intervalOf(fact('pelvic-incidence', { measures }))).toEqual([54, 54]);
    },
  );

  it('in a category of another system is none', () => {
    const stages = { category: [concept('http://example.org/stages', 'planned')] };
    expect(stateOf('cup-inclination', { measures: [cup(60, { more: stages })] })).toBe('not-recorded');
  });
});

describe('a unit', () => {
  it.each([
    // Truth: closed form, pi/180; 10 mm to a centimetre; 25.4 mm to an inch; a gon is 1/400 of a turn.
    ['cup-inclination', 0.6981317007977318, 'rad', 40],
    ['cup-inclination', 50, 'gon', 45],
    ['cup-inclination', 40, 'deg', 40],
    ['head-diameter', 3.6, 'cm', 36],
    ['head-diameter', 0.036, 'm', 36],
    ['head-diameter', 1, '[in_i]', 25.4],
  ])('of %s is converted by UCUM: %d %s is %d', (code, value, unit, expected) => {
    const found = fact(code, { measures: [measure(code, quantity(value, unit))] });
    const [low = NaN] = intervalOf(found) ?? [];
    // Values are rounded to 1e-6 as they become facts.
    expect(Math.abs(low - expected)).toBeLessThanOrEqual(1e-6);
    expect(found.provenance.asFound).toEqual({ value: String(value), unit });
    expect(found.unit).toBe(code === 'head-diameter' ? 'mm' : 'deg');
  });

  it.each(['mm', 'kg', 'Cel', '1'])(
    'of another dimension, %s for an angle, refuses the value by name',
    (unit) => {
      // Truth: closed form, dimensions.
      const given = { measures: [measure('cup-inclination', quantity(40, unit))] };
      expect(stateOf('cup-inclination', given)).toBe('refused');
      expect(findings(given)).toMatchObject([
        { kind: 'wrong-dimension', measure: 'cup-inclination', hip: 'left' },
      ]);
    },
  );

  it.each<[string, JsonObject]>([
    ['no code', { valueQuantity: { value: 40, unit: 'deg' } }],
    ['another system', { valueQuantity: { value: 40, system: 'http://example.org', code: 'deg' } }],
    ['a word that is no UCUM code', quantity(40, 'degrees')],
    ['a unit that is not proportional to an angle', quantity(100, '%[slope]')],
    ['a text for a number', quantity('40', 'deg')],
    ['no number', quantity(undefined, 'deg')],
    // IEEE 754: the greatest double is about 1.8e308, so that this many radians are no number of degrees.
    ['a number too large in the unit asked for', quantity(1e308, 'rad')],
    ['a whole number without a unit', { valueInteger: 40 }],
    ['two values at once', { ...quantity(40, 'deg'), valueInteger: 40 }],
  ])('or value with %s is not read, and said to be so', (_what, value) => {
    // Truth: UCUM: %[slope] is a function of the angle (100 % is 45 degrees), which no factor can convert.
    const given = { measures: [measure('cup-inclination', value)] };
    expect(stateOf('cup-inclination', given)).toBe('refused');
    expect(findingKinds(given)[0]).toMatch(/^(measure-unreadable|wrong-dimension)$/);
  });
});

describe('a comparator or a range', () => {
  it.each<[string, JsonObject, readonly [number, number]]>([
    ['< 50', quantity(50, 'deg', { comparator: '<' }), [-Infinity, 50]],
    ['<= 50', quantity(50, 'deg', { comparator: '<=' }), [-Infinity, 50]],
    ['> 50', quantity(50, 'deg', { comparator: '>' }), [50, Infinity]],
    ['>= 50', quantity(50, 'deg', { comparator: '>=' }), [50, Infinity]],
    ['>= 0.5 rad', quantity(0.5, 'rad', { comparator: '>=' }), [28.64789, Infinity]],
    ['40 to 50', { valueRange: { low: q(40), high: q(50) } }, [40, 50]],
    ['40 and more', { valueRange: { low: q(40) } }, [40, Infinity]],
    ['50 at most', { valueRange: { high: q(50) } }, [-Infinity, 50]],
  ])('%s is an interval and never a number', (_text, value, expected) => {
    // Truth: the project's design: a Range or a comparator is an interval; integration decisions §1, "Definition".
    const found = fact('cup-inclination', { measures: [measure('cup-inclination', value)] });
    expect(intervalOf(found)).toEqual(expected);
  });

  it.each<[string, JsonObject]>([
    ['a comparator that R4 does not know', quantity(50, 'deg', { comparator: 'ad' })],
    ['a range without ends', { valueRange: {} }],
    ['a range turned around', { valueRange: { low: q(50), high: q(40) } }],
    ['a range with one unreadable end', { valueRange: { low: q(40), high: { value: 50, code: 'deg' } } }],
  ])('that is %s is refused', (_what, value) => {
    // Truth: published, FHIR R4 quantity-comparator and Range.
    expect(stateOf('cup-inclination', { measures: [measure('cup-inclination', value)] })).toBe('refused');
  });
});

function q(value: number): JsonObject {
  return { value, system: UCUM, code: 'deg' };
}

// Truth: the plausible limits of the rulebook (cup inclination 5 to 90 degrees), edges inside.
describe('a value outside the plausible limits', () => {
  it.each([
    [5, 'present'],
    [90, 'present'],
    [4.999999, 'refused'],
    [90.000001, 'refused'],
    [400, 'refused'],
    [-40, 'refused'],
  ])('%d degrees of inclination is %s', (value, expected) => {
    const given = { measures: [cup(value)] };
    expect(stateOf('cup-inclination', given)).toBe(expected);
    expect(findingKinds(given)).toEqual(expected === 'refused' ? ['implausible'] : []);
  });

  it('is refused in the unit it came in, by measure, value, limits and hip', () => {
    const given = { measures: [measure('cup-inclination', quantity(4, 'rad'))] };
    expect(findings(given)).toMatchObject([
      {
        kind: 'implausible',
        hip: 'left',
        construct: 'planned',
        measure: 'cup-inclination',
        from: ['Observation/cup-inclination'],
      },
    ]);
    expect(findings(given)[0]?.text).toBe('planned cup inclination 4 rad, possible range 5 to 90 deg');
  });

  it('is refused as an interval only when all of it is impossible', () => {
    const over = (limit: number): Case => ({
      measures: [measure('cup-inclination', quantity(limit, 'deg', { comparator: '>' }))],
    });
    expect(stateOf('cup-inclination', over(80))).toBe('present');
    expect(stateOf('cup-inclination', over(95))).toBe('refused');
  });

  it('does not hide another value that is possible', () => {
    expect(stateOf('cup-inclination', { measures: [cup(400, { id: 'a' }), cup(60, { id: 'b' })] })).toBe(
      'present',
    );
  });
});

// Truth: clinical decisions §2: CT, navigation, cross-table lateral, AP film, clinical, estimate; missing = estimate; then the newer.
describe('of several values in place', () => {
  const ranking = ['ct', 'navigation', 'cross-table', 'ap-film', 'clinical', 'estimate'] as const;

  it('the better method counts, however old', () => {
    for (const [index, better] of ranking.slice(0, -1).entries()) {
      const worse = ranking[index + 1];
      const given = inPlace(film('a', 40, '2010-01-01', better), film('b', 44, '2026-01-01', worse));
      expect(intervalOf(fact('cup-inclination', given)), `${better} before ${worse}`).toEqual([40, 40]);
      expect(fact('cup-inclination', given).method).toBe(better);
    }
  });

  it('a missing method counts as an estimate', () => {
    const given = inPlace(film('a', 40, '2010-01-01', 'clinical'), film('b', 44, '2026-01-01'));
    expect(intervalOf(fact('cup-inclination', given))).toEqual([40, 40]);
    const tied = inPlace(film('a', 40, '2010-01-01', 'estimate'), film('b', 44, '2026-01-01'));
    expect(intervalOf(fact('cup-inclination', tied))).toEqual([44, 44]);
  });

  it('of one method the newer counts, compared as instants and not as texts', () => {
    const given = inPlace(
      film('a', 40, '2026-01-01T23:00:00-11:00', 'ct'),
      film('b', 44, '2026-01-02T01:00:00+14:00', 'ct'),
    );
    expect(intervalOf(fact('cup-inclination', given))).toEqual([40, 40]);
  });

  it('an undated one comes after every dated one', () => {
    const undated = film('b', 44, '', 'ct');
    const bare = without(undated, 'effectiveDateTime');
    expect(intervalOf(fact('cup-inclination', inPlace(film('a', 40, '1999-01-01', 'ct'), bare)))).toEqual([
      40, 40,
    ]);
  });

  it('an AP film in place has its measuring band, a CT a narrower one, an estimate none, a plan zero', () => {
    // Truth: clinical decisions §3, measuring band: film ± 2 for inclination, CT ± 2, an estimate never; anteversion film ± 5.
    const error = (id: string, value: number, method?: string): number | undefined =>
      fact(
        id,
        inPlace(
          measure(id, quantity(value, 'deg'), {
            stages: ['postoperative'],
            ...(method !== undefined && { with: { method } }),
          }),
        ),
      ).error;
    expect([error('cup-inclination', 40, 'ap-film'), error('cup-inclination', 40, 'ct')]).toEqual([2, 2]);
    expect([error('cup-anteversion', 15, 'ap-film'), error('cup-anteversion', 15, 'ct')]).toEqual([5, 2]);
    for (const method of ['cross-table', 'navigation', undefined]) {
      expect(error('cup-anteversion', 15, method), method ?? 'missing').toBe(5);
    }
    expect(error('cup-anteversion', 15, 'estimate')).toBeUndefined();
    expect(
      fact('cup-anteversion', { measures: [measure('cup-anteversion', quantity(15, 'deg'))] }).error,
    ).toBe(0);
  });
});

// Truth: clinical decisions §3 (beyond the conflict limits) and the limits of the rulebook (inclination 5 degrees).
describe('two values of one measure', () => {
  it.each([
    [5, false],
    [5.000001, true],
    [20, true],
  ])('that differ by %d degrees conflict: %s', (gap, conflict) => {
    const given = inPlace(film('a', 40, '2026-01-01', 'ct'), film('b', 40 + gap, '2026-02-01', 'ct'));
    expect(findingKinds(given)).toEqual(conflict ? ['conflicting'] : []);
    expect(intervalOf(fact('cup-inclination', given))).toEqual([40 + gap, 40 + gap]);
  });

  it('are compared only like with like: another method, definition or plane reads another angle', () => {
    const other: readonly (readonly [Record<string, string>, Record<string, string>])[] = [
      [{ method: 'ct' }, { method: 'ap-film' }],
      [
        { method: 'ct', 'angle-definition': 'operative' },
        { method: 'ct', 'angle-definition': 'radiographic' },
      ],
      [
        { method: 'ct', 'reference-plane': 'app' },
        { method: 'ct', 'reference-plane': 'table' },
      ],
    ];
    for (const [a, b] of other) {
      const pair = (first: Record<string, string>, second: Record<string, string>): Case =>
        inPlace(
          cup(30, { id: 'a', stages: ['postoperative'], date: '2026-01-01', with: first }),
          cup(60, { id: 'b', stages: ['postoperative'], date: '2026-02-01', with: second }),
        );
      expect(findingKinds(pair(a, b))).toEqual([]);
      expect(findingKinds(pair(a, a))).toEqual(['conflicting']);
    }
  });

  it('of implants conflict when they differ at all', () => {
    // Truth: the rulebook's limit of 0 for nominal sizes.
    const head = (id: string, value: number): JsonObject =>
      measure('head-diameter', quantity(value, 'mm'), { id, stages: ['postoperative'] });
    expect(findingKinds(inPlace(head('a', 32), head('b', 32)))).toEqual([]);
    expect(findingKinds(inPlace(head('a', 32), head('b', 32.1)))).toEqual(['conflicting']);
  });

  it('of one rank and date that conflict decide nothing: the fact is unknown', () => {
    const given = inPlace(film('a', 40, '2026-01-01', 'ct'), film('b', 60, '2026-01-01', 'ct'));
    expect(stateOf('cup-inclination', given)).toBe('conflicting');
    expect(fact('cup-inclination', given).provenance.from).toEqual(['Observation/a', 'Observation/b']);
  });

  it('of the other hip or of another stage are no conflict', () => {
    const right = film('b', 60, '2026-01-01', 'ct');
    expect(
      findingKinds(
        inPlace(film('a', 40, '2026-01-01', 'ct'), { ...right, bodySite: snomed(CODE.rightHipSite) }),
      ),
    ).toEqual([]);
    expect(findingKinds({ measures: [cup(60, { id: 'p' }), film('a', 40, '2026-01-01')] })).toEqual([]);
  });
});

// Truth: clinical decisions §2: superseded when a newer plan for the same hip and order exists.
describe('an older plan', () => {
  it('is superseded by a newer one and no conflict with it', () => {
    const given = {
      measures: [cup(60, { id: 'a', date: '2026-10-02' }), cup(40, { id: 'b', date: '2026-11-02' })],
    };
    expect(intervalOf(fact('cup-inclination', given))).toEqual([40, 40]);
    expect(findingKinds(given)).toEqual([]);
  });

  it('of the day before is superseded too, and of an hour before', () => {
    for (const [older, newer] of [
      ['2026-11-01', '2026-11-02'],
      ['2026-11-02T09:00:00Z', '2026-11-02T10:00:00Z'],
    ] as const) {
      const given = { measures: [cup(60, { id: 'a', date: older }), cup(40, { id: 'b', date: newer })] };
      expect(intervalOf(fact('cup-inclination', given))).toEqual([40, 40]);
      expect(findingKinds(given), `${older} before ${newer}`).toEqual([]);
    }
  });

  it('of the same day is not: which of the two holds cannot be told', () => {
    const given = { measures: [cup(60, { id: 'a' }), cup(40, { id: 'b' })] };
    expect(stateOf('cup-inclination', given)).toBe('conflicting');
    expect(findingKinds(given)).toEqual(['conflicting']);
  });
});

describe('an observation that is not what it should be', () => {
  it.each<[string, JsonObject, string]>([
    ['entered in error', { status: 'entered-in-error' }, 'not-recorded'],
    ['cancelled', { status: 'cancelled' }, 'not-recorded'],
    ['registered, without a value yet', { status: 'registered' }, 'refused'],
    ['without a status', { status: undefined }, 'refused'],
    ['with an unknown modifier', { modifierExtension: [{ url: 'http://example.org/not' }] }, 'refused'],
    ['dated on a day that does not exist', { effectiveDateTime: '2026-02-31' }, 'refused'],
    ['dated in the future', { effectiveDateTime: '2027-11-02' }, 'refused'],
    ['of another patient', { subject: { reference: 'Patient/q' } }, 'not-recorded'],
    [
      'with two of our codes',
      {
        code: concept(
          'https://kotyle.example/fhir/CodeSystem/hip-measure',
          'cup-inclination',
          'cup-anteversion',
        ),
      },
      'not-recorded',
    ],
    ['coded without a system', { code: { coding: [{ code: 'cup-inclination' }] } }, 'not-recorded'],
    ['without a side', { bodySite: undefined }, 'not-recorded'],
    [
      'with its value stated as absent',
      { valueQuantity: undefined, dataAbsentReason: { text: 'unknown' } },
      'not-recorded',
    ],
  ])('%s is not used, and that is noted', (_what, more, expected) => {
    // Truth: FHIR R4 Observation.status and modifierExtension; integration decisions §3 for another patient.
    const given = { measures: [JSON.parse(JSON.stringify({ ...cup(60), ...more })) as JsonObject] };
    expect(stateOf('cup-inclination', given)).toBe(expected);
    expect(read(given).notes.length).toBe(1);
  });

  it('is about an order, plan or measure of another patient is an identity matter; a stray laboratory value is not', () => {
    // Truth: integration decisions §3: one critical identity card if it came inside an order, plan or measure.
    const stranger = { subject: { reference: 'Patient/q' } };
    expect(findingKinds({ measures: [cup(60, { more: stranger })] })).toEqual(['other-patient']);
    const laboratory = {
      resourceType: 'Observation',
      id: 'l',
      status: 'final',
      code: concept('http://loinc.org', '39156-5'),
      ...stranger,
    };
    expect(findingKinds({ prefetch: { observations: searchset(laboratory) } })).toEqual([]);
  });

  it('says when a plan was sent as final or a measurement as preliminary', () => {
    // Truth: integration decisions §1: a planned Observation is preliminary; final is read and noted.
    expect(fact('cup-inclination', { measures: [cup(60)] }).remarks).toEqual(['plan sent as final']);
    expect(
      fact('cup-inclination', { measures: [cup(60, { more: { status: 'preliminary' } })] }).remarks,
    ).toEqual([]);
    expect(
      fact(
        'cup-inclination',
        inPlace(cup(60, { stages: ['postoperative'], more: { status: 'preliminary' } })),
      ).remarks,
    ).toEqual(['preliminary value']);
  });

  it('with a qualifier that cannot be read, or stated twice differently, is refused', () => {
    // Truth: FHIR R4 components qualify the value: one that is not understood may change it.
    const component = (...codes: readonly string[]): JsonObject => ({
      component: codes.map((code) => ({
        code: concept('https://kotyle.example/fhir/CodeSystem/hip-measure', 'angle-definition'),
        valueCodeableConcept: concept('https://kotyle.example/fhir/CodeSystem/hip-measure-value', code),
      })),
    });
    expect(stateOf('cup-inclination', { measures: [cup(60, { more: component('spherical') })] })).toBe(
      'refused',
    );
    expect(
      stateOf('cup-inclination', { measures: [cup(60, { more: component('operative', 'anatomic') })] }),
    ).toBe('refused');
    expect(
      stateOf('cup-inclination', { measures: [cup(60, { more: component('operative', 'operative') })] }),
    ).toBe('present');
  });
});

describe('codes, flags and counts', () => {
  it('are read in their own type and refused in any other', () => {
    // Truth: closed form, the value types of the facts.
    expect(
      fact('liner-type', { measures: [measure('liner-type', coded('dual-mobility'))] }).state,
    ).toMatchObject({
      value: { kind: 'code', codes: ['dual-mobility'] },
    });
    expect(stateOf('liner-type', { measures: [measure('liner-type', coded('paper'))] })).toBe('refused');
    expect(
      fact('skirted-head', { measures: [measure('skirted-head', { valueBoolean: true })] }).state,
    ).toMatchObject({
      value: { kind: 'flag', flag: true },
    });
    expect(stateOf('skirted-head', { measures: [measure('skirted-head', { valueString: 'yes' })] })).toBe(
      'refused',
    );
    const count = (value: unknown): Case =>
      inPlace(measure('dislocation-count', { valueInteger: value }, { stages: ['postoperative'] }));
    expect(intervalOf(fact('dislocation-count', count(3)))).toEqual([3, 3]);
    expect(stateOf('dislocation-count', count(2.5))).toBe('refused');
    expect(stateOf('dislocation-count', count('3'))).toBe('refused');
  });
});

describe('a measure that was not read', () => {
  it('because its set is absent, failed or incomplete is unknown for that reason and names the set', () => {
    // Truth: integration decisions §2: a set that is absent, failed or incomplete turns "not recorded" into unknown.
    const failed = { resourceType: 'OperationOutcome', issue: [{ severity: 'error', code: 'timeout' }] };
    const paged = { ...searchset(), link: [{ relation: 'next', url: 'x' }] };
    for (const measures of [undefined, failed, paged]) {
      const found = fact('cup-inclination', { prefetch: { measures } });
      expect(found.state).toMatchObject({ status: 'unknown', reason: 'set-not-read' });
      expect(found.setsMissing).toEqual(['measures']);
    }
    for (const measures of [null, searchset()]) {
      expect(stateOf('cup-inclination', { prefetch: { measures } })).toBe('not-recorded');
    }
  });

  it('beside one that was read from an incomplete set does not hide it', () => {
    // Truth: closed form.
    const paged = { ...searchset(cup(60)), link: [{ relation: 'next', url: 'x' }] };
    expect(intervalOf(fact('cup-inclination', { prefetch: { measures: paged } }))).toEqual([60, 60]);
  });

  it('because the side of the hip is not known says so', () => {
    const orders = [order({ bodySite: [snomed(CODE.hipSite)] })];
    expect(stateOf('cup-inclination', { orders, measures: [cup(60)] }, 'unknown')).toBe('side-unknown');
    expect(findingKinds({ orders, measures: [cup(60)] }, 'unknown')).toEqual(['order-side-missing']);
  });
});

describe('outside data of any shape', () => {
  it('never throws and never depends on the order of entries', () => {
    // Truth: the project's design: shuffled bundles give identical bytes; errors are values at the edge.
    const pool: readonly JsonObject[] = [
      cup(60, { id: 'a' }),
      cup(40, { id: 'b' }),
      cup(400, { id: 'c' }),
      cup(45, { id: 'd', stages: [] }),
      measure('head-diameter', quantity(36, 'mm'), { id: 'e' }),
      measure('liner-type', coded('neutral'), { id: 'f' }),
      measure('cup-anteversion', quantity(15, 'deg'), {
        id: 'g',
        more: { bodySite: snomed(CODE.rightHipSite) },
      }),
      measure('cup-anteversion', { valueString: 'fifteen' }, { id: 'h' }),
      { resourceType: 'Observation', code: 5, category: 'x', status: ['final'], component: {} },
    ];
    fc.assert(
      fc.property(fc.shuffledSubarray([...pool]), (measures) => {
        const plain = (list: readonly JsonObject[]): string =>
          canonicalJson(
            [...hipOf(read({ measures: list })).facts.values()].map((one) => ({
              ...one,
              state: JSON.stringify(one.state),
            })),
          );
        expect(plain(measures)).toBe(plain([...measures].reverse()));
      }),
      { numRuns: 100, seed: 4 },
    );
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.json(), fc.constantFrom(...pool.map((one) => JSON.stringify(one)))), {
          maxLength: 5,
        }),
        fc.json(),
        (texts, odd) => {
          const measures = texts.map((text) => JSON.parse(text) as JsonObject);
          const member = JSON.parse(odd) as unknown;
          expect(() =>
            read({
              measures,
              prefetch: {
                observations: member,
                serviceRequests: {
                  resourceType: 'Bundle',
                  entry: [
                    {
                      resource: {
                        resourceType: 'ServiceRequest',
                        code: member,
                        bodySite: member,
                        subject: member,
                      },
                    },
                  ],
                },
              },
            }),
          ).not.toThrow();
        },
      ),
      { numRuns: 300, seed: 5 },
    );
  });
});
