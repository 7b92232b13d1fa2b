import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { deriveFacts } from '../../src/engine/derive.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import { intervalOf } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { factMap, number, unknown } from './facts.js';

const rad = (degrees: number): number => (degrees * Math.PI) / 180;
const deg = (radians: number): number => (radians * 180) / Math.PI;
const qualified = (qualifiers: Fact['qualifiers'], more: Partial<Fact> = {}): Partial<Fact> => ({
  ...more,
  ...(qualifiers && { qualifiers }),
});

function derived(id: string, facts: readonly Fact[], construct: ConstructKind = 'planned'): Fact {
  const found = deriveFacts(factMap(...facts), construct, shipped.knowledge).get(id);
  if (!found) throw new Error(`no ${id}`);
  return found;
}

function ends(fact: Fact): readonly [number, number] {
  const found = intervalOf(fact);
  if (!found) throw new Error(`${fact.id} is ${JSON.stringify(fact.state)}`);
  return found;
}

const OPERATIVE = 'cup-anteversion-operative';
const ANATOMIC = 'cup-anteversion-anatomic';
const cup = (inclination: number, anteversion: number, more: Partial<Fact> = {}): readonly Fact[] => [
  number('cup-inclination', inclination, { error: 0, ...more }),
  number('cup-anteversion', anteversion, { error: 0, ...more }),
];

describe('anteversion in the definition a published sum means', () => {
  it.each([
    // Truth: published definitions (Murray 1993), worked conversions of the evidence dossier, printed to two decimals.
    [40, 15, 19.28, 22.63],
    [45, 20, 27.24, 27.24],
    [50, 25, 35.96, 31.33],
    [45, -10, -14, -14],
  ])('of %d/%d radiographic is %d operative and %d anatomic', (ri, ra, oa, aa) => {
    expect(Number(ends(derived(OPERATIVE, cup(ri, ra)))[0].toFixed(2))).toBe(oa);
    expect(Number(ends(derived(ANATOMIC, cup(ri, ra)))[0].toFixed(2))).toBe(aa);
  });

  it('that was stated in that definition is taken as stated, with or without its inclination', () => {
    const stated = qualified({ 'angle-definition': 'operative' }, { error: 0 });
    for (const inclination of [number('cup-inclination', 45, stated), unknown('cup-inclination')]) {
      expect(intervalOf(derived(OPERATIVE, [inclination, number('cup-anteversion', 20, stated)]))).toEqual([
        20, 20,
      ]);
    }
  });

  it('without its inclination is unknown otherwise, and the inclination is what it needs', () => {
    const facts = [unknown('cup-inclination'), number('cup-anteversion', 20)];
    expect(derived(OPERATIVE, facts).state).toMatchObject({ status: 'unknown', needs: ['cup-inclination'] });
    expect(derived(ANATOMIC, facts).state).toMatchObject({ status: 'unknown', needs: ['cup-inclination'] });
  });

  it('of a cup at 90 degrees of inclination is none at all, not 90', () => {
    // Closed form (Murray 1993): tan(operative anteversion) = tan(RA) / cos(RI), which has no value at RI = 90.
    expect(derived(OPERATIVE, cup(90, 12)).state).toMatchObject({ status: 'unknown', reason: 'refused' });
    expect(ends(derived(OPERATIVE, cup(89, 12)))[0]).toBeCloseTo(
      deg(Math.atan(Math.tan(rad(12)) / Math.cos(rad(89)))),
      6,
    );
  });

  it('without both angles needs both', () => {
    const facts = [unknown('cup-inclination'), unknown('cup-anteversion')];
    for (const id of [OPERATIVE, ANATOMIC])
      expect(derived(id, facts).state).toMatchObject({ needs: ['cup-anteversion', 'cup-inclination'] });
  });

  it('on a film that does not show the sign is taken as the radiographic one is, and says so', () => {
    const film = { stage: 'postoperative', method: 'ap-film' } as const;
    const forward = derived(OPERATIVE, cup(40, 15, film), 'in-place');
    expect(Number(ends(forward)[0].toFixed(2))).toBe(19.28);
    expect(forward.remarks.join()).toMatch(/its sign not shown/);
    const [low, high] = ends(derived(OPERATIVE, cup(40, -15, film), 'in-place'));
    expect(Number(low.toFixed(2))).toBe(-19.28);
    expect(Number(high.toFixed(2))).toBe(19.28);
  });

  it('keeps the measuring band only in the definition it was read in: restated, only that of a plan is known', () => {
    // A band of 5 degrees radiographic is about 6 operative at 40/15: no band is better than a wrong one.
    const film = { stage: 'postoperative', method: 'ct', error: 2 } as const;
    const stated = { ...film, qualifiers: { 'angle-definition': 'radiographic' } } as const;
    expect(derived(OPERATIVE, cup(40, 15, stated), 'in-place').error).toBeUndefined();
    expect(derived(OPERATIVE, cup(40, 15), 'planned').error).toBe(0);
    const own = { ...film, qualifiers: { 'angle-definition': 'operative' } } as const;
    expect(derived(OPERATIVE, cup(40, 15, own), 'in-place').error).toBe(2);
  });

  it('of a cup known between bounds holds every cup inside them, and names what would narrow it', () => {
    // Truth: closed form, tan OA = tan RA / cos RI and tan AA = tan RA / sin RI; 1e-5 for the rounding of the ends.
    const span = (min: number, max: number): fc.Arbitrary<readonly [number, number]> =>
      fc
        .tuple(fc.integer({ min, max }), fc.integer({ min: 1, max: 25 }))
        .map(([low, width]) => [low, Math.min(low + width, max + 1)]);
    fc.assert(
      fc.property(span(20, 65), span(-30, 45), (inclination, anteversion) => {
        const facts = [number('cup-inclination', inclination), number('cup-anteversion', anteversion)];
        for (const [id, part] of [
          [OPERATIVE, Math.cos],
          [ANATOMIC, Math.sin],
        ] as const) {
          const fact = derived(id, facts);
          const [low, high] = ends(fact);
          expect(fact.narrowedBy).toEqual(['cup-anteversion', 'cup-inclination']);
          for (const i of [0, 0.3, 0.7, 1])
            for (const a of [0, 0.3, 0.7, 1]) {
              const ri = inclination[0] + i * (inclination[1] - inclination[0]);
              const ra = anteversion[0] + a * (anteversion[1] - anteversion[0]);
              const inside = deg(Math.atan(Math.tan(rad(ra)) / part(rad(ri))));
              expect(inside).toBeGreaterThanOrEqual(low - 1e-5);
              expect(inside).toBeLessThanOrEqual(high + 1e-5);
            }
        }
      }),
      { numRuns: 300, seed: 41 },
    );
  });
});

// Truth: clinical decisions §4: film angle to another posture by the difference of tilts, an angle against the anterior
// pelvic plane by the tilt itself; plane missing only with a spoken assumption.
describe('the tilt that cup angles refer to', () => {
  const tilts = [number('app-tilt-supine', 3), number('app-tilt-standing', -9)];
  const on = (plane?: string, other = plane): readonly Fact[] => [
    number('cup-inclination', 40, plane === undefined ? {} : qualified({ 'reference-plane': plane })),
    number('cup-anteversion', 25, other === undefined ? {} : qualified({ 'reference-plane': other })),
    ...tilts,
  ];

  it.each([
    ['app', 0],
    ['supine-film', 3],
    ['standing-film', -9],
  ])('is, against %s, %d degrees, and needs no remark', (plane, tilt) => {
    const fact = derived('film-tilt', on(plane));
    expect(intervalOf(fact)).toEqual([tilt, tilt]);
    expect(fact.remarks).toEqual([]);
  });

  it('is that of a supine film where no plane is stated, and says so', () => {
    const fact = derived('film-tilt', on());
    expect(intervalOf(fact)).toEqual([3, 3]);
    expect(fact.remarks.join()).toMatch(/not stated, supine film assumed/);
  });

  it('is the one stated where only one of the two angles states it', () => {
    for (const facts of [on('standing-film', undefined), on(undefined, 'standing-film')])
      expect(intervalOf(derived('film-tilt', facts))).toEqual([-9, -9]);
  });

  it('is unknown against a table, or where the two angles refer to different planes', () => {
    expect(derived('film-tilt', on('table')).state).toMatchObject({
      status: 'unknown',
      reason: 'definition-unknown',
      needs: ['cup-anteversion', 'cup-inclination'],
    });
    expect(derived('film-tilt', on('app', 'supine-film')).state).toMatchObject({
      status: 'unknown',
      reason: 'conflicting',
    });
  });

  it('on a film whose tilt nobody measured needs that tilt', () => {
    for (const [plane, tilt] of [
      ['supine-film', 'app-tilt-supine'],
      ['standing-film', 'app-tilt-standing'],
    ] as const) {
      const facts = on(plane).filter(({ id }) => !id.startsWith('app-tilt'));
      expect(derived('film-tilt', facts).state).toMatchObject({
        status: 'unknown',
        reason: 'not-recorded',
        needs: [tilt],
      });
    }
  });
});

describe('stem version against the posterior condyles', () => {
  const id = 'stem-anteversion-condylar';
  const stem = (reference?: string): readonly Fact[] => [
    number(
      'stem-anteversion',
      12,
      reference === undefined ? {} : qualified({ 'version-reference': reference }),
    ),
  ];

  it('is the stem version stated so, or stated without a reference, which is said', () => {
    // Truth: clinical decisions §4: stem-anteversion has version-reference (posterior-condylar, tibial, native-neck).
    expect(intervalOf(derived(id, stem('posterior-condylar')))).toEqual([12, 12]);
    expect(derived(id, stem('posterior-condylar')).remarks).toEqual([]);
    expect(intervalOf(derived(id, stem()))).toEqual([12, 12]);
    expect(derived(id, stem()).remarks.join()).toMatch(/not stated, condylar assumed/);
  });

  it.each(['tibial', 'native-neck'])('is unknown when the version is against the %s', (reference) => {
    expect(derived(id, stem(reference)).state).toMatchObject({
      status: 'unknown',
      reason: 'definition-unknown',
      needs: ['stem-anteversion'],
    });
  });

  it('of an unknown stem is unknown for the same reason', () => {
    expect(derived(id, [unknown('stem-anteversion', 'conflicting')]).state).toMatchObject({
      reason: 'conflicting',
      needs: ['stem-anteversion'],
    });
  });
});
