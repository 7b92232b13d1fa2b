import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { deriveFacts } from '../../src/engine/derive.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import { intervalOf } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { code, factMap, number, unknown } from './facts.js';

type Definition = 'radiographic' | 'operative' | 'anatomic';
type Span = readonly [number, number];

const rad = (degrees: number): number => (degrees * Math.PI) / 180;
const deg = (radians: number): number => (radians * 180) / Math.PI;

/** Radiographic angles by closed form from the axis, both angles in one definition; written apart from the program. */
function radiographic(
  definition: Definition,
  inclination: number,
  anteversion: number,
): readonly [number, number] {
  const [i, a] = [rad(inclination), rad(anteversion)];
  switch (definition) {
    case 'radiographic':
      return [inclination, anteversion];
    case 'operative':
      return [
        deg(Math.atan2(Math.sin(i), Math.cos(i) * Math.cos(a))),
        deg(Math.asin(Math.cos(i) * Math.sin(a))),
      ];
    case 'anatomic':
      return [
        deg(Math.atan2(Math.sin(i) * Math.cos(a), Math.cos(i))),
        deg(Math.asin(Math.sin(i) * Math.sin(a))),
      ];
  }
}

interface Cup {
  readonly inclination?: number | Span;
  readonly anteversion?: number | Span;
  readonly definition?: Definition;
  readonly other?: Definition;
  readonly more?: Partial<Fact>;
}

function facts({
  inclination,
  anteversion,
  definition,
  other = definition,
  more,
}: Cup): ReadonlyMap<string, Fact> {
  const stated = (given: Definition | undefined): Partial<Fact> => ({
    ...more,
    qualifiers: { ...more?.qualifiers, ...(given !== undefined && { 'angle-definition': given }) },
  });
  return factMap(
    inclination === undefined
      ? unknown('cup-inclination')
      : number('cup-inclination', inclination, stated(definition)),
    anteversion === undefined
      ? unknown('cup-anteversion')
      : number('cup-anteversion', anteversion, stated(other)),
  );
}

function derived(id: string, cup: Cup, construct: ConstructKind = 'planned'): Fact {
  const found = deriveFacts(facts(cup), construct, shipped.knowledge).get(id);
  if (!found) throw new Error(`no ${id}`);
  return found;
}

function expectInterval(fact: Fact, [low, high]: Span, tolerance: number): void {
  const found = intervalOf(fact);
  expect(found, JSON.stringify(fact.state)).toBeDefined();
  expect(Math.abs((found?.[0] ?? NaN) - low), `${JSON.stringify(found)} for ${low}`).toBeLessThanOrEqual(
    tolerance,
  );
  expect(Math.abs((found?.[1] ?? NaN) - high), `${JSON.stringify(found)} for ${high}`).toBeLessThanOrEqual(
    tolerance,
  );
}

describe('a cup angle', () => {
  it.each<[Definition, number, number]>([
    ['operative', 38.38, 19.28],
    ['anatomic', 42.27, 22.63],
    ['radiographic', 40, 15],
  ])('stated in the %s definition as %d/%d is 40/15 radiographic', (definition, inclination, anteversion) => {
    // Truth: closed form, the worked check of the geometry conventions; stated to two decimals.
    expectInterval(derived('cup-inclination', { inclination, anteversion, definition }), [40, 40], 0.01);
    expectInterval(derived('cup-anteversion', { inclination, anteversion, definition }), [15, 15], 0.01);
  });

  it('of 45/20 operative is 46.8/14.0', () => {
    // Truth: clinician, the example of the clinical decisions §4.
    const cup: Cup = { inclination: 45, anteversion: 20, definition: 'operative' };
    expectInterval(derived('cup-inclination', cup), [46.8, 46.8], 0.05);
    expectInterval(derived('cup-anteversion', cup), [14, 14], 0.05);
  });

  it('in a plan or on a film is radiographic unless it says otherwise', () => {
    // Truth: clinical decisions §4, defaults.
    for (const [construct, more] of [
      ['planned', {}],
      ['planned', { method: 'ct' }],
      ['in-place', { stage: 'postoperative', method: 'ap-film' }],
      ['in-place', { stage: 'postoperative' }],
    ] as const) {
      const fact = derived('cup-inclination', { inclination: 45, anteversion: 20, more }, construct);
      expect(intervalOf(fact)).toEqual([45, 45]);
    }
  });

  it.each<[string, Partial<Fact>]>([
    ['on a CT', { stage: 'postoperative', method: 'ct' }],
    ['by navigation', { stage: 'postoperative', method: 'navigation' }],
    ['in theatre', { stage: 'intraoperative' }],
  ])('in place and read %s without a definition may be any: an interval over the three', (_how, more) => {
    // Truth: clinical decisions §4: intraoperative or CT without definition = unknown; closed forms for the ends.
    const all = (['radiographic', 'operative', 'anatomic'] as const).map((definition) =>
      radiographic(definition, 45, 20),
    );
    const span = (index: 0 | 1): Span => [
      Math.min(...all.map((one) => one[index])),
      Math.max(...all.map((one) => one[index])),
    ];
    const cup: Cup = { inclination: 45, anteversion: 20, more };
    expectInterval(derived('cup-inclination', cup, 'in-place'), span(0), 1e-5);
    expectInterval(derived('cup-anteversion', cup, 'in-place'), span(1), 1e-5);
    expect(derived('cup-inclination', cup, 'in-place').remarks).toContain('angle definition not stated');
  });

  it('in another definition without its partner is unknown, and the partner is what it needs', () => {
    // Truth: closed form; operative inclination alone fixes no radiographic one.
    for (const definition of ['operative', 'anatomic'] as const) {
      expect(derived('cup-inclination', { inclination: 45, definition }).state).toMatchObject({
        status: 'unknown',
        reason: 'definition-unknown',
        needs: ['cup-anteversion'],
      });
      expect(derived('cup-anteversion', { anteversion: 20, definition }).state).toMatchObject({
        status: 'unknown',
        needs: ['cup-inclination'],
      });
    }
    expect(intervalOf(derived('cup-inclination', { inclination: 45 }))).toEqual([45, 45]);
  });

  it('stated in a definition of its own beside a partner in another is solved together with it', () => {
    // Truth: closed form: the axis lies along (sin RI sin AA, -cos RI cos AA, sin RI cos AA); 17.40 by that.
    const cup: Cup = { inclination: 45, anteversion: 23.9, definition: 'radiographic', other: 'anatomic' };
    const [i, a] = [rad(45), rad(23.9)];
    const [x, y, z] = [Math.sin(i) * Math.sin(a), Math.cos(i) * Math.cos(a), Math.sin(i) * Math.cos(a)];
    const exact = deg(Math.asin(x / Math.hypot(x, y, z)));
    expect(exact.toFixed(2)).toBe('17.40');
    expect(intervalOf(derived('cup-inclination', cup))).toEqual([45, 45]);
    expectInterval(derived('cup-anteversion', cup), [exact, exact], 1e-5);
  });

  it('that no cup can have together with its partner is refused', () => {
    // Truth: closed form: sin^2 OI + sin^2 RA may not exceed 1.
    const cup: Cup = { inclination: 80, anteversion: 60, definition: 'operative', other: 'radiographic' };
    expect(derived('cup-inclination', cup).state).toMatchObject({ status: 'unknown', reason: 'refused' });
  });

  it('stated as an interval is restated as one that holds every cup it may be', () => {
    // Truth: closed form, sampled inside the intervals; 1e-5 for the rounding of the ends to 1e-6.
    const angle = (min: number, max: number): fc.Arbitrary<Span> =>
      fc
        .tuple(fc.integer({ min, max }), fc.integer({ min: 0, max: 25 }))
        .map(([low, width]) => [low, Math.min(low + width, max)]);
    fc.assert(
      fc.property(
        fc.constantFrom<Definition>('operative', 'anatomic'),
        angle(20, 65),
        angle(-30, 45),
        (definition, inclination, anteversion) => {
          const cup: Cup = { inclination, anteversion, definition };
          const found = [
            intervalOf(derived('cup-inclination', cup)),
            intervalOf(derived('cup-anteversion', cup)),
          ] as const;
          for (const i of [0, 0.25, 0.5, 0.75, 1])
            for (const a of [0, 0.25, 0.5, 0.75, 1]) {
              const inside = radiographic(
                definition,
                inclination[0] + i * (inclination[1] - inclination[0]),
                anteversion[0] + a * (anteversion[1] - anteversion[0]),
              );
              for (const index of [0, 1] as const) {
                const [low, high] = found[index] ?? [NaN, NaN];
                expect(inside[index]).toBeGreaterThanOrEqual(low - 1e-5);
                expect(inside[index]).toBeLessThanOrEqual(high + 1e-5);
              }
            }
        },
      ),
      { numRuns: 500, seed: 12 },
    );
  });

  it('whose version may lie on either side of zero is not as certain as its two ends make it look', () => {
    // Truth: closed form: 45 operative with version 0 is 45 radiographic, with -20 or 20 it is 46.78.
    const fact = derived('cup-inclination', {
      inclination: 45,
      anteversion: [-20, 20],
      definition: 'operative',
    });
    expectInterval(fact, [45, radiographic('operative', 45, 20)[0]], 1e-5);
  });

  it('that is partly impossible in its definition does not stop the evaluation', () => {
    // Truth: style of the project, §9: outside data is answered by a fact status, never by an exception.
    for (const definition of ['operative', 'anatomic'] as const) {
      for (const cup of [
        { inclination: [40, 200] as Span, anteversion: 15 },
        { inclination: 40, anteversion: [10, 300] as Span },
        { inclination: [-20, 40] as Span, anteversion: 15 },
      ])
        expect(
          () => deriveFacts(facts({ ...cup, definition }), 'planned', shipped.knowledge),
          JSON.stringify(cup),
        ).not.toThrow();
    }
  });

  it('keeps unknown and its reason, and an open interval stays undecided in another definition', () => {
    // Truth: closed form.
    expect(derived('cup-inclination', {}).state).toMatchObject({ reason: 'not-recorded' });
    expect(
      derived('cup-inclination', { inclination: [50, Infinity], anteversion: 15, definition: 'operative' })
        .state.status,
    ).toBe('unknown');
    expect(intervalOf(derived('cup-inclination', { inclination: [50, Infinity] }))).toEqual([50, Infinity]);
  });
});

// Truth: clinical decisions §4: an AP film gives the size of anteversion, not its sign; a plan states a direction.
describe('the sign of anteversion', () => {
  const film: Partial<Fact> = { stage: 'postoperative', method: 'ap-film' };
  const signed = (anteversion: number, more: Partial<Fact>, construct: ConstructKind): Fact =>
    derived('cup-anteversion-signed', { anteversion, more }, construct);

  it('is that of a plan', () => {
    expect(intervalOf(signed(-10, {}, 'planned'))).toEqual([-10, -10]);
    expect(intervalOf(signed(15, {}, 'planned'))).toEqual([15, 15]);
  });

  it('on an AP film, or by no stated method, may be either until it is confirmed', () => {
    for (const more of [film, { stage: 'postoperative' } as const]) {
      expect(intervalOf(signed(15, more, 'in-place'))).toEqual([-15, 15]);
      expect(signed(15, more, 'in-place').narrowedBy).toEqual(['cup-anteversion']);
      expect(
        intervalOf(signed(15, { ...more, qualifiers: { 'version-sign-confirmed': true } }, 'in-place')),
      ).toEqual([15, 15]);
      expect(
        intervalOf(signed(-15, { ...more, qualifiers: { 'version-sign-confirmed': true } }, 'in-place')),
      ).toEqual([-15, -15]);
    }
  });

  it.each(['ct', 'cross-table', 'navigation'])(
    'on %s is seen, unless it is said to be unconfirmed',
    (method) => {
      const more: Partial<Fact> = {
        stage: 'postoperative',
        method,
        qualifiers: { 'angle-definition': 'radiographic' },
      };
      expect(intervalOf(signed(-10, more, 'in-place'))).toEqual([-10, -10]);
      const doubted = { ...more, qualifiers: { ...more.qualifiers, 'version-sign-confirmed': false } };
      expect(intervalOf(signed(-10, doubted, 'in-place'))).toEqual([-10, 10]);
    },
  );

  it('that is not confirmed is taken as written for the size, and said so', () => {
    const size = derived('cup-anteversion', { anteversion: 15, more: film }, 'in-place');
    expect(intervalOf(size)).toEqual([15, 15]);
    expect(size.remarks.join()).toMatch(/its sign not shown/);
    const backward = derived('cup-anteversion', { anteversion: -15, more: film }, 'in-place');
    expect(intervalOf(backward)).toEqual([-15, 15]);
  });

  it('of an unknown anteversion is unknown', () => {
    expect(derived('cup-anteversion-signed', {}).state).toMatchObject({
      status: 'unknown',
      needs: ['cup-anteversion'],
    });
  });
});

// Truth: clinical decisions §4: head-diameter = inner head, mobile-liner-diameter = effective head.
describe('the head that really bears', () => {
  const bearing = (...list: readonly Fact[]): ReadonlyMap<string, Fact> =>
    deriveFacts(factMap(...list), 'planned', shipped.knowledge);
  const inner = number('head-diameter', 28, { unit: 'mm' });
  const mobile = number('mobile-liner-diameter', 42, { unit: 'mm' });

  it('is the head of a single articulation, and the mobile liner of a dual one', () => {
    expect(
      intervalOf(
        bearing(inner, code('liner-type', 'neutral')).get('effective-head-diameter') ?? unknown('x'),
      ),
    ).toEqual([28, 28]);
    for (const list of [
      [inner, mobile],
      [inner, mobile, code('liner-type', 'dual-mobility')],
    ]) {
      const facts = bearing(...list);
      expect(intervalOf(facts.get('effective-head-diameter') ?? unknown('x'))).toEqual([42, 42]);
      expect(facts.get('articulation')?.state).toMatchObject({ value: { codes: ['dual-mobility'] } });
    }
  });

  it('of a dual mobility without its size is unknown: the inner head never stands in', () => {
    const facts = bearing(inner, code('liner-type', 'dual-mobility'), unknown('mobile-liner-diameter'));
    expect(facts.get('effective-head-diameter')?.state).toMatchObject({
      status: 'unknown',
      needs: ['mobile-liner-diameter'],
    });
  });

  it('is taken for single where nothing is said of the liner, and says so', () => {
    const facts = bearing(inner, unknown('liner-type'), unknown('mobile-liner-diameter'));
    expect(facts.get('articulation')?.state).toMatchObject({ value: { codes: ['single'] } });
    expect(facts.get('articulation')?.remarks.join()).toMatch(/assumed/);
  });

  it.each(['refused', 'conflicting'] as const)(
    'is not taken for single where the liner type was stated and %s',
    (reason) => {
      // Truth: the project's design: a default serves what was never stated; a refused or conflicting value was stated.
      const facts = bearing(inner, unknown('liner-type', reason), unknown('mobile-liner-diameter'));
      expect(facts.get('articulation')?.state.status).toBe('unknown');
      const size = bearing(inner, unknown('liner-type'), unknown('mobile-liner-diameter', reason));
      expect(size.get('articulation')?.state.status).toBe('unknown');
    },
  );
});
