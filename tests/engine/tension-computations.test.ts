import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { deriveFacts } from '../../src/engine/derive.js';
import type { Fact } from '../../src/facts/fact.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import { expectWithin } from '../biomechanics/tolerance.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { intervalOf } from '../facts/records.js';
import { shipped, shippedPack } from '../rulebook/shipped.js';
import { computed, computedOf, needsOf, shown } from './computed-records.js';
import type { Values } from './computed-records.js';
import { factMap, number, unknown } from './facts.js';

/** Offset and length that the components stated in a record give. */

const OFFSET = 'femoral-offset-change-from-components';
const LENGTH = 'leg-length-change-from-components';

describe('the change of offset and length that the components give', () => {
  const steps = z.object({ plus3_5mm: z.object({ offset: z.number(), height: z.number() }) });
  const { expected, label } = workedExample('tension', 'head-length-change-by-ccd', {
    inputs: z.unknown(),
    expected: z.record(z.string(), steps),
  });

  // Derived tables of plane trigonometry, printed to two decimals.
  it.each(Object.entries(expected))(
    `of a neck 3.5 mm longer on a stem of %s degrees is the tabled one (${label})`,
    (angle, { plus3_5mm: { offset, height } }) => {
      const plan = {
        'neck-length-change': 3.5,
        'neck-shaft-angle': Number(angle),
        'stem-seating-change': 0,
        'hip-center-elevation': 0,
      };
      expectWithin(shown(OFFSET, plan), offset, 0.005 + 1e-6);
      expectWithin(shown(LENGTH, plan), height, 0.005 + 1e-6);
    },
  );

  it('is 2.83 mm each for a neck 4 mm longer, at 135 degrees said to be assumed', () => {
    // Truth: the geometry conventions of the project's design.
    const plan = { 'neck-length-change': 4 };
    expectWithin(shown(OFFSET, plan), 2.83, 0.005);
    expectWithin(shown(LENGTH, plan), 2.83, 0.005);
    expect(computed(OFFSET, plan).assumptions).toEqual(['neck-shaft angle 135°, not stated']);
  });

  it('loses what the stem sits deeper and the center goes up, and gains what a lateralized liner adds', () => {
    // Truth: clinical decisions §4: 4 mm at 40/15 are 3.0 mm distal; seating and elevation shorten by their size.
    const liner = { 'liner-lateralization': 4, 'cup-inclination': 40, 'cup-anteversion': 15 };
    const plan = { 'neck-length-change': 4, 'stem-seating-change': 2, 'hip-center-elevation': 1 };
    const neck = 4 * Math.SQRT1_2;
    expectWithin(shown(LENGTH, plan), neck - 3, 1e-6);
    const distal = 4 * Math.cos((15 * Math.PI) / 180) * Math.cos((40 * Math.PI) / 180);
    expectWithin(shown(LENGTH, { ...plan, ...liner }), neck - 3 + distal, 1e-6);
    expectWithin(distal, 3.0, 0.05);
    expect(shown(OFFSET, { ...plan, ...liner })).toBe(shown(OFFSET, plan));
  });

  it('of length changes neither with the stem’s version nor with medialization, which are no inputs of it', () => {
    const plan = { 'neck-length-change': 4, 'stem-anteversion': 40, 'hip-center-medialization': 8 };
    expect(shown(LENGTH, plan)).toBe(shown(LENGTH, { 'neck-length-change': 4 }));
  });

  it('is unknown where nothing at all was stated, and names what would tell it', () => {
    const length = computed(LENGTH, {});
    expect(length.shown).toBeUndefined();
    expect(length.fact.state.status).toBe('unknown');
    expect(needsOf(length)).toEqual([
      'hip-center-elevation',
      'liner-lateralization',
      'neck-length-change',
      'stem-seating-change',
    ]);
    expect(needsOf(computed(OFFSET, {}))).toEqual(['neck-length-change']);
  });

  it('says aloud of what was not stated that it counts as unchanged', () => {
    expect(computed(LENGTH, { 'stem-seating-change': 3 })).toMatchObject({
      shown: -3,
      assumptions: [
        'hip center as high as before, no change stated',
        'neck as long as before, no change stated',
        'neck-shaft angle 135°, not stated',
      ],
    });
    const whole = { 'neck-length-change': 0, 'stem-seating-change': 0, 'hip-center-elevation': 0 };
    expect(computed(LENGTH, { ...whole, 'neck-shaft-angle': 130 })).toMatchObject({
      shown: 0,
      assumptions: [],
    });
  });

  it('of a lateralized liner needs the cup’s angles, and nothing stands in for them', () => {
    const found = computed(LENGTH, { 'liner-lateralization': 4, 'neck-length-change': 0 });
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toEqual(expect.arrayContaining(['cup-anteversion', 'cup-inclination']));
  });

  it('counts nothing for a lateralized liner that stays in place', () => {
    const liner: Fact = { ...number('liner-lateralization', 4, { unit: 'mm' }), retained: true };
    const stated = factMap(liner, number('neck-length-change', 0, { unit: 'mm' }));
    const facts = deriveFacts(stated, 'planned', shipped.knowledge);
    expect(computedOf(LENGTH, facts).shown).toBe(0);
  });

  it('is not told of a value that was stated and can’t be used', () => {
    const facts = factMap(
      number('neck-length-change', 4, { unit: 'mm' }),
      unknown('stem-seating-change', 'refused'),
    );
    const found = computedOf(LENGTH, facts);
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toContain('stem-seating-change');
  });
});

describe('information', () => {
  const PLAN: Values = {
    'neck-length-change': 4,
    'stem-seating-change': 2,
    'hip-center-elevation': -3,
    'neck-shaft-angle': 135,
  };

  it('about fewer components leaves the length to decide with no narrower: it holds what more would tell', () => {
    // Truth: the project's design: information is monotone; what is not stated ranges over all that is plausible.
    fc.assert(
      fc.property(fc.subarray(Object.keys(PLAN)), fc.subarray(Object.keys(PLAN)), (first, second) => {
        const only = (names: readonly string[]): Values =>
          Object.fromEntries(Object.entries(PLAN).filter(([name]) => names.includes(name)));
        const more = intervalOf(computed(LENGTH, only([...first, ...second])).fact);
        const less = intervalOf(computed(LENGTH, only(first)).fact);
        if (!less) return;
        expect(more).toBeDefined();
        expect(less[0]).toBeLessThanOrEqual(more?.[0] ?? NaN);
        expect(less[1]).toBeGreaterThanOrEqual(more?.[1] ?? NaN);
      }),
    );
  });

  it('that was left out is named as what would narrow the length', () => {
    expect(needsOf(computed(LENGTH, { 'neck-length-change': 4 }))).toEqual([
      'hip-center-elevation',
      'stem-seating-change',
    ]);
  });
});

describe('a change that is stated and computed', () => {
  it('differs by 5.17 mm where 8 mm are stated and the neck grows by 4, whichever is the greater', () => {
    // Truth: closed form: 8 - 4 sin 135 = 5.17; 2.83 + 8 = 10.83 the other way.
    const neck = { 'neck-length-change': 4 };
    const offset = 'femoral-offset-change-stated-difference';
    const length = 'leg-length-change-stated-difference';
    expectWithin(shown(offset, { ...neck, 'femoral-offset-change': 8 }), 8 - 4 * Math.SQRT1_2, 1e-6);
    expectWithin(shown(offset, { ...neck, 'femoral-offset-change': -8 }), 8 + 4 * Math.SQRT1_2, 1e-6);
    expectWithin(shown(length, { ...neck, 'leg-length-change': 8 }), 8 - 4 * Math.SQRT1_2, 1e-6);
    const seated = { ...neck, 'leg-length-change': 8, 'stem-seating-change': -5.2 };
    expectWithin(shown(length, seated), Math.abs(8 - 5.2 - 4 * Math.SQRT1_2), 1e-6);
  });

  it('judges what was stated: what was not counts as unchanged also where it decides', () => {
    const { fact, assumptions } = computed('leg-length-change-stated-difference', {
      'neck-length-change': 0,
      'leg-length-change': 4,
    });
    expect(intervalOf(fact)).toEqual([4, 4]);
    expect(assumptions).toContain('stem seated as deep as before, no change stated');
  });

  it.each([
    ['femoral-offset-change-stated-difference', 'femoral-offset-change'],
    ['leg-length-change-stated-difference', 'leg-length-change'],
  ])('by %s is unknown without either of the two', (id, stated) => {
    expect(needsOf(computed(id, { [stated]: 8 }))).toEqual(['neck-length-change']);
    expect(needsOf(computed(id, { 'neck-length-change': 4 }))).toEqual([stated]);
  });
});

describe('a computation that needs one of several inputs', () => {
  it('is refused where one of them could not be left out', () => {
    const path = `computations/${LENGTH}.json`;
    const files = shippedPack.files.map((file) =>
      file.path === path
        ? {
            path,
            content: {
              ...(file.content as object),
              atLeastOneOf: ['neck-length-change', 'neck-shaft-angle'],
            },
          }
        : file,
    );
    const result = buildRulebook({ files }, COMPUTATION_IDS);
    expect(result.ok ? [] : result.issues).toEqual([
      {
        file: path,
        path: 'atLeastOneOf',
        expected: 'inputs that may be left out',
        found: 'neck-shaft-angle',
      },
    ]);
  });
});
