import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { computeAll } from '../../src/engine/compute.js';
import type { Computed } from '../../src/engine/compute.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import type { ComputationTable } from '../../src/engine/computation.js';
import { compareFact } from '../../src/engine/compare.js';
import type { Fact } from '../../src/facts/fact.js';
import { unknownFact } from '../../src/facts/fact.js';
import { intervalOf } from '../facts/records.js';
import { atMost } from '../long-form.js';
import { shipped } from '../rulebook/shipped.js';
import { factMap, number, unknown } from './facts.js';

type Span = readonly [number, number];

const mm = (id: string, value: number | Span): Fact => number(id, value, { unit: 'mm' });

/** All facts a computation may ask for; those not given were not recorded, those given are planned: without error. */
function scope(...given: readonly Fact[]): ReadonlyMap<string, Fact> {
  const inputs = [...shipped.computations.values()].flatMap((file) => file.inputs.map(({ fact }) => fact));
  return new Map([
    ...inputs.map((id) => [id, unknownFact(id, 'not-recorded')] as const),
    ...factMap(...given.map((fact) => ({ error: 0, ...fact }))),
  ]);
}

function compute(
  id: string,
  facts: ReadonlyMap<string, Fact>,
  table: ComputationTable = COMPUTATIONS,
): Computed {
  const found = computeAll({ rulebook: shipped, table, facts }).get(id);
  if (!found) throw new Error(`no computation ${id}`);
  return found;
}

const jump = (head: number, inclination: number, offset = 0): number => {
  const arc = 90 - inclination - (Math.asin(offset / (head / 2)) * 180) / Math.PI;
  return arc <= 0 ? 0 : head * Math.sin((arc * Math.PI) / 360);
};

describe('a computation on exact inputs', () => {
  it('gives the published form to 1e-6, with its inputs beside it', () => {
    // Truth: closed form, 2R sin((90 - RI - asin(O/R))/2); 9.32 and 15.21 mm in the clinical decisions §4.
    for (const [inclination, shown] of [
      [60, 9.32],
      [40, 15.21],
      [58, 9.92],
    ] as const) {
      const found = compute(
        'jump-distance',
        scope(mm('effective-head-diameter', 36), number('cup-inclination', inclination)),
      );
      expect(Math.abs((found.shown ?? NaN) - jump(36, inclination))).toBeLessThanOrEqual(1e-6);
      expect(found.shown?.toFixed(2)).toBe(shown.toFixed(2));
      expect(found.inputs).toEqual({
        'effective-head-diameter': 36,
        'cup-inclination': inclination,
        'head-center-offset': 0,
      });
      expect(intervalOf(found.fact)).toEqual([found.shown, found.shown]);
    }
  });

  it('is rounded as it becomes a fact: ratios to nine decimals, angles and lengths to six', () => {
    // Truth: the project's design, deterministic.
    const facts = scope(mm('effective-head-diameter', 28), mm('neck-diameter', 12));
    expect(compute('head-neck-ratio', facts).shown).toBe(2.333333333);
    expect(compute('oscillation-angle', facts).shown).toBe(
      Number(((2 * Math.acos(12 / 28) * 180) / Math.PI).toFixed(6)),
    );
  });

  it('says which motion decided a margin, one of the set the rulebook names', () => {
    // Truth: the four-pose set of the rulebook; (-30,0,0), (90,0,-30), (0,0,40), (110,0,0).
    const facts = scope(
      number('cup-inclination', 40),
      number('cup-anteversion', 15),
      mm('effective-head-diameter', 28),
      mm('neck-diameter', 12),
      number('stem-anteversion-modelled', 15),
      number('neck-shaft-angle', 135),
    );
    const set = shipped.parameters.get('motion-set-four-pose-v1')?.value as readonly {
      readonly name: string;
    }[];
    expect(set.map(({ name }) => name)).toContain(compute('impingement-margin', facts).motion);
  });
});

// Truth: the project's design, "information is monotone": a default serves what a card shows, not what decides.
describe('a missing neck diameter', () => {
  it('is shown at its default, and the default is said aloud', () => {
    const found = compute('head-neck-ratio', scope(mm('effective-head-diameter', 36)));
    expect(found.shown).toBe(3);
    expect(found.assumptions.join()).toMatch(/neck of 12 mm, neck diameter not stated/);
  });

  it('decides over all that is plausible, 8 to 20 mm, and would be settled by the neck diameter', () => {
    const { fact } = compute('head-neck-ratio', scope(mm('effective-head-diameter', 36)));
    expect(intervalOf(fact)).toEqual([36 / 20, 36 / 8]);
    expect(fact.narrowedBy).toEqual(['neck-diameter']);
    expect(compareFact(fact, 'below', 2.37)).toMatchObject({ truth: 'unknown', needs: ['neck-diameter'] });
  });

  it.each([
    // 2.37 x 20 = 47.4: only from there on no plausible neck makes the ratio low.
    [47, 'unknown'],
    [48, 'false'],
    [62, 'false'],
    [22, 'unknown'],
  ])('under a %d mm head leaves "ratio below 2.37" %s', (head, expected) => {
    const { fact } = compute('head-neck-ratio', scope(mm('effective-head-diameter', head)));
    expect(compareFact(fact, 'below', 2.37).truth).toBe(expected);
  });

  it('agrees with every plausible neck on every head, by trying them', () => {
    fc.assert(
      fc.property(fc.integer({ min: 22, max: 62 }), (head) => {
        const { fact } = compute('head-neck-ratio', scope(mm('effective-head-diameter', head)));
        const answers = new Set(Array.from({ length: 121 }, (_, step) => head / (8 + step / 10) < 2.37));
        expect(compareFact(fact, 'below', 2.37).truth).toBe(
          answers.size > 1 ? 'unknown' : String(answers.has(true)),
        );
      }),
      { numRuns: 100, seed: 47 },
    );
  });

  it('that was refused, conflicting or not read is not replaced by a default where it was stated', () => {
    for (const reason of ['refused', 'conflicting'] as const) {
      const found = compute(
        'head-neck-ratio',
        scope(mm('effective-head-diameter', 36), unknown('neck-diameter', reason)),
      );
      expect(found.shown).toBeUndefined();
      expect(found.fact.state).toMatchObject({
        status: 'unknown',
        reason: 'input-missing',
        needs: ['neck-diameter'],
      });
    }
  });
});

describe('a missing input', () => {
  it('without a default makes the result unknown and is what it needs', () => {
    const found = compute('jump-distance', scope());
    expect(found.shown).toBeUndefined();
    expect(found.fact.state).toMatchObject({
      status: 'unknown',
      reason: 'input-missing',
      needs: ['cup-inclination', 'effective-head-diameter'],
    });
    expect(found.assumptions).toEqual([]);
  });

  it('of the model keeps its default: liner geometry and neck-shaft angle are exempt', () => {
    // Truth: the project's design: liner geometry and neck-shaft angle belong to the model and are exempt.
    const { fact, assumptions } = compute(
      'jump-distance',
      scope(mm('effective-head-diameter', 36), number('cup-inclination', 60), mm('liner-penetration', 0)),
    );
    expect(intervalOf(fact)?.[0]).toBe(intervalOf(fact)?.[1]);
    expect(fact.narrowedBy).toBeUndefined();
    expect(assumptions).toEqual([
      'head center in the opening plane of a 180° liner',
      'rim without elevation, none stated',
    ]);
  });

  it('of a computation that is not monotone leaves it undecided, and it shows a number all the same', () => {
    // Truth: the rulebook: the margin of a motion set may turn, so its corners bound nothing.
    const facts = scope(
      number('cup-inclination', 60),
      number('cup-anteversion', 15),
      mm('effective-head-diameter', 36),
      mm('neck-diameter', 12),
    );
    const found = compute('impingement-margin', facts);
    expect(found.fact.state).toMatchObject({
      status: 'unknown',
      reason: 'input-missing',
      needs: ['stem-anteversion-modelled'],
    });
    expect(found.shown).toBeTypeOf('number');
    expect(found.assumptions.join()).toMatch(/stem version 15°, not stated/);
  });

  it('passes on what its own unknown input needs', () => {
    const head = unknown('effective-head-diameter', 'not-recorded', ['mobile-liner-diameter']);
    expect(compute('jump-distance', scope(head, number('cup-inclination', 60))).fact.state).toMatchObject({
      needs: ['mobile-liner-diameter'],
    });
  });
});

describe('a worn liner', () => {
  const head = [mm('effective-head-diameter', 36), number('cup-inclination', 40)] as const;

  it('has no jump distance, neither to decide with nor to show: the rim of the cavity is not known', () => {
    const worn = compute('jump-distance', scope(...head, mm('liner-penetration', 0.4)));
    expect(worn.shown).toBeUndefined();
    expect(worn.fact.state).toMatchObject({ status: 'unknown', needs: ['liner-penetration'] });
  });

  it('that may be worn, its penetration known as a range, has none either; one measured at 0 has its own', () => {
    expect(compute('jump-distance', scope(...head, mm('liner-penetration', [0, 0.4]))).shown).toBeUndefined();
    expect(compute('jump-distance', scope(...head, mm('liner-penetration', 0))).shown?.toFixed(2)).toBe(
      '15.21',
    );
  });
});

describe('an input known only within a measuring band', () => {
  // Truth: clinical decisions §3: inside the band no card; how wide it is in a sum is not worked out, so it can't be told.
  const stem = number('stem-anteversion-condylar', 5);

  it('of a film is in the interval that decides: beyond a limit by more than the band is told, inside it is not', () => {
    // Truth: closed form: 6 ± 5 and 5 are 6 to 16; clinical decisions §3: inside the band no card.
    const cup: Fact = { ...number('cup-anteversion', 6), error: 5 };
    const { fact, shown } = compute('combined-anteversion', new Map([...scope(stem), [cup.id, cup]]));
    expect(shown).toBe(11);
    expect(compareFact(fact, 'clearly-below', 16.5).truth).toBe('true');
    expect(compareFact(fact, 'clearly-below', 15)).toMatchObject({
      truth: 'unknown',
      needs: ['cup-anteversion'],
    });
    expect(compareFact(fact, 'clearly-below', 6).truth).toBe('false');
  });

  it('of an estimate leaves a comparison that allows for the band unknown, and names the input', () => {
    const cup = { ...number('cup-anteversion', 6) };
    Reflect.deleteProperty(cup, 'error');
    const facts = new Map([...scope(stem), [cup.id, cup]]);
    const { fact, shown } = compute('combined-anteversion', facts);
    expect(shown).toBe(11);
    expect(compareFact(fact, 'clearly-below', 25)).toMatchObject({
      truth: 'unknown',
      needs: ['cup-anteversion'],
    });
    expect(compareFact(fact, 'below', 25).truth).toBe('true');
  });

  it('of a plan is exact, and the comparison is told', () => {
    const { fact } = compute('combined-anteversion', scope(stem, number('cup-anteversion', 6)));
    expect(compareFact(fact, 'clearly-below', 25).truth).toBe('true');
    expect(compareFact(fact, 'clearly-below', 11).truth).toBe('false');
  });
});

describe('an interval as input', () => {
  const domains: Readonly<Record<string, Span>> = {
    'effective-head-diameter': [22, 62],
    'neck-diameter': [8, 20],
    'cup-inclination': [5, 90],
    'head-center-offset': [-5, 5],
    'cup-anteversion': [-40, 75],
    'stem-anteversion-condylar': [-40, 80],
    'stem-anteversion-modelled': [-40, 80],
    'neck-shaft-angle': [95, 165],
    'rim-skirt': [0, 21.9],
    'rim-skirt-reach': [11, 60],
    'rim-elevation': [0, 30],
    'liner-elevation-arc': [0, 360],
    'liner-elevation-position': [-180, 180],
    'rim-turn': [0, 5],
    'liner-face-direction': [-180, 180],
    'rim-opening': [100, 180],
    'rim-chamfer': [0, 5],
    'film-tilt': [-70, 60],
    'app-tilt-standing': [-70, 60],
    'sacral-slope-change': [-120, 120],
    'pelvic-incidence': [20, 110],
    'lumbar-lordosis-standing': [-40, 110],
    'leg-length-discrepancy': [-120, 120],
    'leg-length-change': [-80, 80],
    'global-offset-difference': [-60, 60],
    'femoral-offset-change': [-40, 40],
    'hip-center-medialization': [-40, 40],
    'hip-center-elevation': [-20, 80],
    'neck-length-change': [-15, 30],
    'stem-seating-change': [-30, 30],
    'liner-lateralization-added': [0, 10],
    'liner-penetration': [0, 20],
    'head-penetration-rate': [0, 3],
    'liner-years-in-place': [0.25, 40],
    'liner-crosslinked': [0, 1],
  };
  /** What may be on record of one hip: a skirt beside any of them; the rest of the geometry is not stated. */
  const GEOMETRY: readonly (readonly string[])[] = [
    [],
    ['rim-elevation', 'liner-elevation-arc', 'liner-elevation-position'],
    ['rim-turn', 'liner-face-direction'],
    ['rim-opening'],
    ['rim-chamfer'],
    ['liner-lateralization-added'],
  ];
  const SKIRT = ['rim-skirt', 'rim-skirt-reach'];
  const spannable = [...shipped.computations.values()].flatMap((file) => {
    const names = file.inputs.filter(({ monotone }) => monotone ?? file.monotone).map(({ fact }) => fact);
    return names.length === 0 ? [] : [{ file, names }];
  });
  const turning = (file: (typeof spannable)[number]['file'], stated: readonly string[]): readonly string[] =>
    file.inputs.flatMap(({ fact, turnsWith }) =>
      turnsWith?.some((id) => stated.includes(id)) ? [fact] : [],
    );

  it('is never shown as one number', () => {
    // Truth: integration decisions §1: ranges are intervals, never reduced to a number silently.
    const found = compute(
      'jump-distance',
      scope(mm('effective-head-diameter', 36), number('cup-inclination', [40, 60])),
    );
    expect(found.shown).toBeUndefined();
    const [low = NaN, high = NaN] = intervalOf(found.fact) ?? [];
    expect(Math.abs(low - jump(36, 60))).toBeLessThanOrEqual(1e-6);
    expect(Math.abs(high - jump(36, 40))).toBeLessThanOrEqual(1e-6);
    expect(found.fact.narrowedBy).toEqual(['cup-inclination']);
  });

  it('that is open leaves the result unknown', () => {
    const found = compute(
      'jump-distance',
      scope(mm('effective-head-diameter', 36), number('cup-inclination', [40, Infinity])),
    );
    expect(found.fact.state).toMatchObject({ status: 'unknown', needs: ['cup-inclination'] });
  });

  it.each(spannable.map((one) => [one.file.id, one] as const))(
    'of %s gives bounds that hold every value inside, over the whole plausible range',
    (id, { file, names }) => {
      // Truth: closed form: the rulebook calls it monotone, so the corners must bound whatever lies between.
      const share = fc.double({ min: 0, max: 1, noNaN: true });
      const draw = fc.tuple(share, share, share);
      let told = 0;
      fc.assert(
        fc.property(
          fc.constantFrom(...GEOMETRY),
          fc.boolean(),
          fc.array(draw, { minLength: file.inputs.length, maxLength: file.inputs.length }),
          (geometry, skirted, draws) => {
            const stated = [...geometry, ...(skirted ? SKIRT : [])];
            const optional = [...GEOMETRY.flat(), ...SKIRT];
            const turns = turning(file, stated);
            const inputs = file.inputs.flatMap(({ fact, stage }, index) => {
              if ((optional.includes(fact) && !stated.includes(fact)) || domains[fact] === undefined)
                return [];
              const [min, max] = domains[fact];
              const [a = 0, b = 0, t = 0] = draws[index] ?? [];
              const ends =
                names.includes(fact) && !turns.includes(fact) ? [Math.min(a, b), Math.max(a, b)] : [a, a];
              const [low = 0, high = 0] = ends.map((end) => min + end * (max - min));
              const more = stage === undefined ? {} : { stage };
              return [{ fact, low, high, inside: low + t * (high - low), more }];
            });
            const box = scope(...inputs.map(({ fact, low, high, more }) => number(fact, [low, high], more)));
            const point = scope(...inputs.map(({ fact, inside, more }) => number(fact, inside, more)));
            const bounds = intervalOf(compute(id, box).fact);
            const value = compute(id, point).shown;
            if (value === undefined || bounds === undefined) return;
            told += 1;
            // 1e-6: ends and value are each rounded to their step.
            expect(value).toBeGreaterThanOrEqual(bounds[0] - 2e-6);
            expect(value).toBeLessThanOrEqual(bounds[1] + 2e-6);
          },
        ),
        { numRuns: atMost(200, 500), seed: 11 },
      );
      expect(told).toBeGreaterThan(atMost(80, 200));
    },
  );
});

describe('a computation that throws', () => {
  it('is unknown, keeps its fault for the log, and leaves the others alone', () => {
    // Truth: style of the project, §9: one rule breaks, the others go on.
    const facts = scope(
      mm('effective-head-diameter', 36),
      mm('neck-diameter', 12),
      number('cup-inclination', 60),
    );
    const table: ComputationTable = {
      ...COMPUTATIONS,
      'jump-distance': () => {
        throw new RangeError('planted');
      },
    };
    const broken = compute('jump-distance', facts, table);
    expect(broken.fact.state).toMatchObject({
      status: 'unknown',
      reason: 'could-not-evaluate',
      needs: ['jump-distance'],
    });
    expect(broken.failure).toBeInstanceOf(RangeError);
    expect(broken.shown).toBeUndefined();
    for (const id of ['head-neck-ratio', 'oscillation-angle']) {
      expect(compute(id, facts, table)).toEqual(compute(id, facts));
    }
  });

  it('or gives no number, or is missing from the table, is treated the same', () => {
    const facts = scope(mm('effective-head-diameter', 36), number('cup-inclination', 60));
    const without = Object.fromEntries(Object.entries(COMPUTATIONS).filter(([id]) => id !== 'jump-distance'));
    const odd = { ...COMPUTATIONS, 'jump-distance': () => ({ value: NaN }) };
    for (const table of [without, odd])
      expect(compute('jump-distance', facts, table).fact.state).toMatchObject({
        reason: 'could-not-evaluate',
      });
  });
});
