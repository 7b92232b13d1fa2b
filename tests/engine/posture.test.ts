import { describe, expect, it } from 'vitest';
import { computeAll } from '../../src/engine/compute.js';
import type { Computed } from '../../src/engine/compute.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { deriveFacts } from '../../src/engine/derive.js';
import { compareFact } from '../../src/engine/compare.js';
import { computeForRule } from '../../src/engine/shown-numbers.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Fact } from '../../src/facts/fact.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { hipOf, intervalOf, measure, quantity, read } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';

/** Computations on facts as they are read from a record, each measure at its stage. */

type Stage = 'native' | 'planned' | 'postoperative';

const at = (
  stage: Stage,
  values: Readonly<Record<string, readonly [number, string]>>,
): readonly JsonObject[] =>
  Object.entries(values).map(([id, [value, unit]]) =>
    measure(id, quantity(value, unit), { id: `${stage}-${id}`, stages: [stage] }),
  );

function factsOf(
  measures: readonly JsonObject[],
  construct: ConstructKind = 'planned',
): ReadonlyMap<string, Fact> {
  return deriveFacts(hipOf(read({ measures, construct })).facts, construct, shipped.knowledge);
}

function computed(id: string, facts: ReadonlyMap<string, Fact>): Computed {
  const found = computeAll({ rulebook: shipped, table: COMPUTATIONS, facts }).get(id);
  if (!found) throw new Error(`no computation ${id}`);
  return found;
}

const CUP = at('planned', { 'cup-inclination': [40, 'deg'], 'cup-anteversion': [25, 'deg'] });
const POSTERIOR = at('native', {
  'app-tilt-supine': [0, 'deg'],
  'app-tilt-standing': [-22, 'deg'],
  'app-tilt-relaxed-seated': [-25, 'deg'],
  'lumbar-lordosis-standing': [30, 'deg'],
  'lumbar-lordosis-flexed-seated': [18, 'deg'],
  'pelvic-incidence': [54, 'deg'],
});

describe('the fixed posterior pelvis of the worked patients', () => {
  // Truth: clinical decisions §10 (2): APP tilt supine 0, standing -22, relaxed-seated -25, 40/25 planned: 50.2/40.7 standing.
  const facts = factsOf([...CUP, ...POSTERIOR]);

  it('stands with its cup at 50.2/40.7', () => {
    expect(computed('functional-cup-inclination', facts).shown?.toFixed(1)).toBe('50.2');
    expect(computed('functional-cup-anteversion', facts).shown?.toFixed(1)).toBe('40.7');
    expect(computed('functional-cup-anteversion', facts).assumptions).toEqual([]);
    expect(intervalOf(computed('functional-cup-anteversion', facts).fact)).toEqual([
      computed('functional-cup-anteversion', facts).shown,
      computed('functional-cup-anteversion', facts).shown,
    ]);
  });

  it('moves 3 degrees from standing to seated, flexes 12 at the spine, and lacks 24 of lordosis', () => {
    expect(computed('spinopelvic-mobility', facts).shown).toBe(3);
    expect(intervalOf(facts.get('lumbar-flexion') ?? missing())).toEqual([12, 12]);
    expect(computed('pelvic-incidence-lordosis-mismatch', facts).shown).toBe(24);
  });

  it('sits with its cup where its seated tilt puts it, by another fact for the posture', () => {
    // Truth: closed form: OI stays, OA grows by 25: sin OI = cos RA sin RI, tan OA = tan RA / cos RI.
    const number = computeForRule(
      {
        seated: {
          computation: 'functional-cup-anteversion',
          with: { 'app-tilt-standing': { fact: 'app-tilt-relaxed-seated' } },
        },
      },
      new Set(['seated']),
      { rulebook: shipped, table: COMPUTATIONS, facts },
    ).get('seated');
    const rad = Math.PI / 180;
    const oi = Math.asin(Math.cos(25 * rad) * Math.sin(40 * rad));
    const oa = Math.atan(Math.tan(25 * rad) / Math.cos(40 * rad)) + 25 * rad;
    expect(number?.value).toBeCloseTo(Math.asin(Math.cos(oi) * Math.sin(oa)) / rad, 5);
    expect(number?.with).toEqual({ 'app-tilt-standing': -25 });
    expect(number?.standIns).toEqual(['app-tilt-relaxed-seated']);
  });

  it('without the seated tilt has no such number, and needs it for its mobility', () => {
    const standing = factsOf([
      ...CUP,
      ...at('native', { 'app-tilt-supine': [0, 'deg'], 'app-tilt-standing': [-22, 'deg'] }),
    ]);
    const numbers = computeForRule(
      {
        seated: {
          computation: 'functional-cup-anteversion',
          with: { 'app-tilt-standing': { fact: 'app-tilt-relaxed-seated' } },
        },
      },
      new Set(['seated']),
      { rulebook: shipped, table: COMPUTATIONS, facts: standing },
    );
    expect(numbers.size).toBe(0);
    expect(computed('spinopelvic-mobility', standing).fact.state).toMatchObject({
      status: 'unknown',
      needs: ['app-tilt-relaxed-seated'],
    });
  });
});

function missing(): Fact {
  throw new Error('no such fact');
}

describe('a film whose tilt nobody measured', () => {
  const facts = factsOf([...CUP, ...at('native', { 'app-tilt-standing': [-22, 'deg'] })]);

  it('is shown at 0 degrees, which is said aloud, and decides nothing', () => {
    // Truth: the project's design: film tilt unknown → 0, spoken; a default serves what a card shows, not what decides.
    const found = computed('functional-cup-anteversion', facts);
    expect(found.shown?.toFixed(1)).toBe('40.7');
    expect(found.assumptions.join()).toMatch(/pelvic tilt of 0°.*not recorded/);
    expect(found.fact.state).toMatchObject({ status: 'unknown', needs: ['app-tilt-supine'] });
  });

  it('needs no tilt when the angles are against the anterior pelvic plane', () => {
    const plane = { with: { 'reference-plane': 'app' } };
    const against = factsOf([
      measure('cup-inclination', quantity(40, 'deg'), plane),
      measure('cup-anteversion', quantity(25, 'deg'), plane),
      ...at('native', { 'app-tilt-standing': [-22, 'deg'] }),
    ]);
    const found = computed('functional-cup-anteversion', against);
    expect(found.assumptions).toEqual([]);
    expect(intervalOf(found.fact)?.[0]?.toFixed(1)).toBe('40.7');
  });

  it('against a table has no number at all', () => {
    const plane = { with: { 'reference-plane': 'table' } };
    const table = factsOf([
      measure('cup-inclination', quantity(40, 'deg'), plane),
      measure('cup-anteversion', quantity(25, 'deg'), plane),
      ...at('native', { 'app-tilt-standing': [-22, 'deg'] }),
    ]);
    const found = computed('functional-cup-anteversion', table);
    expect(found.shown).toBeUndefined();
    expect(found.fact.state).toMatchObject({ needs: ['cup-anteversion', 'cup-inclination'] });
  });
});

describe('combined anteversion', () => {
  it('of a textbook hip, 40/20 with a stem at 15, is 35', () => {
    const facts = factsOf(
      at('planned', {
        'cup-inclination': [40, 'deg'],
        'cup-anteversion': [20, 'deg'],
        'stem-anteversion': [15, 'deg'],
      }),
    );
    expect(computed('combined-anteversion', facts).shown).toBe(35);
  });

  it('without a stem version has no number and no default', () => {
    const found = computed('combined-anteversion', factsOf(CUP));
    expect(found.shown).toBeUndefined();
    expect(found.fact.state).toMatchObject({ needs: ['stem-anteversion'] });
  });
});

describe('what a plan leads to', () => {
  const short = at('native', { 'leg-length-discrepancy': [-18, 'mm'] });
  const longer = at('planned', { 'leg-length-change': [16, 'mm'] });

  it('of a leg 18 mm short, lengthened by 16 mm, is 2 mm short', () => {
    // Truth: clinical decisions §10 (4).
    const found = computed('projected-leg-length-discrepancy', factsOf([...short, ...longer]));
    expect(found.shown).toBe(-2);
    expect(found.inputs).toEqual({ 'leg-length-discrepancy': -18, 'leg-length-change': 16 });
  });

  it('starts from the native leg, never from one measured after an operation', () => {
    // Truth: the project's words: native is before the operation; an operated leg already carries its change.
    const after = at('postoperative', { 'leg-length-discrepancy': [4, 'mm'] });
    expect(computed('projected-leg-length-discrepancy', factsOf([...short, ...after, ...longer])).shown).toBe(
      -2,
    );
    for (const construct of ['planned', 'in-place'] as const) {
      const facts = factsOf(
        [...after, ...longer, ...at('postoperative', { 'leg-length-change': [16, 'mm'] })],
        construct,
      );
      const found = computed('projected-leg-length-discrepancy', facts);
      expect(found.shown, construct).toBeUndefined();
      expect(found.fact.state, construct).toMatchObject({
        status: 'unknown',
        needs: ['leg-length-discrepancy'],
      });
    }
  });

  it('loses global offset at the cup and gains it at the femur', () => {
    const facts = factsOf([
      ...at('native', { 'global-offset-difference': [-1, 'mm'] }),
      ...at('planned', { 'femoral-offset-change': [3, 'mm'], 'hip-center-medialization': [8, 'mm'] }),
    ]);
    expect(computed('projected-global-offset-difference', facts).shown).toBe(-6);
  });

  it('shows an unstated medialization as none, says so, and decides over all that is plausible', () => {
    const facts = factsOf([
      ...at('native', { 'global-offset-difference': [0, 'mm'] }),
      ...at('planned', { 'femoral-offset-change': [-3, 'mm'] }),
    ]);
    const found = computed('projected-global-offset-difference', facts);
    expect(found.shown).toBe(-3);
    expect(found.assumptions.join()).toMatch(/medialization not stated/);
    expect(intervalOf(found.fact)).toEqual([-43, 37]);
    expect(compareFact(found.fact, 'below', -5)).toMatchObject({
      truth: 'unknown',
      needs: ['hip-center-medialization'],
    });
  });
});
