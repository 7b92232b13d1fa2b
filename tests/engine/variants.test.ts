import { describe, expect, it } from 'vitest';
import { COMPUTATION_IDS } from '../../src/advice/index.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { explain, leafFromFacts } from '../../src/engine/decide.js';
import { evaluate } from '../../src/engine/evaluate.js';
import type { Advisory, HipEvaluation } from '../../src/engine/evaluate.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { buildRulebook } from '../../src/rulebook/build.js';
import type { Rulebook } from '../../src/rulebook/types.js';
import { variantId } from '../../src/rulebook/variants.js';
import { measure, quantity, read } from '../facts/records.js';
import { shippedPack } from '../rulebook/shipped.js';

/** A rule that asks about a computation with other facts for some of its inputs. */

const OPERATIVE = 'combined-anteversion[cup-anteversion=cup-anteversion-operative]';
const TEMPLATE = 'advisories/placement/cup-retroversion-confirmed.json';

/** The shipped rulebook with one rule more, which compares something with 34 degrees, a limit the rulebook has. */
function withRule(leaf: JsonObject, compute: JsonObject = {}): Rulebook {
  const template = shippedPack.files.find(({ path }) => path === TEMPLATE)?.content as JsonObject;
  const finding = {
    summary: ['a sum'],
    found: ['a sum', ...Object.keys(compute).map((name) => `{${name}}`)],
    options: ['no change'],
    sure: 'mechanism: model',
    notKnown: [],
  };
  const rule = {
    ...template,
    id: 'planted-sum',
    when: { operator: 'above', value: { parameter: 'cup-anteversion-published-high' }, ...leaf },
    compute,
    findings: [finding],
  };
  const content = Object.fromEntries(Object.entries(rule).filter(([name]) => name !== 'effects'));
  const pack = { files: [...shippedPack.files, { path: 'advisories/planted/planted-sum.json', content }] };
  const built = buildRulebook(pack, COMPUTATION_IDS);
  if (!built.ok) throw new Error(JSON.stringify(built.issues));
  return built.rulebook;
}

const PLAIN = { fact: 'combined-anteversion' };
const VARIANT = { fact: 'combined-anteversion', with: { 'cup-anteversion': 'cup-anteversion-operative' } };

const plan = (values: Readonly<Record<string, number>>): readonly JsonObject[] =>
  Object.entries(values).map(([id, value]) => measure(id, quantity(value, 'deg')));

async function judged(
  rulebook: Rulebook,
  values: Readonly<Record<string, number>>,
): Promise<{ readonly hip: HipEvaluation; readonly advisory: Advisory }> {
  const { hips } = await evaluate({
    record: read({ measures: plan(values) }),
    rulebook,
    entry: 'order-sign',
    decide: jsonRulesDecide(rulebook.rules),
    computations: COMPUTATIONS,
  });
  const [hip] = hips;
  const advisory = hip?.advisories.find(({ rule }) => rule === 'planted-sum');
  if (!hip || !advisory) throw new Error('the planted rule was not judged');
  return { hip, advisory };
}

describe('the id of a variant', () => {
  it('names the computation and what stands in for what, in one order', () => {
    expect(variantId({ computation: 'c', with: { b: 'y', a: 'x' } })).toBe('c[a=x,b=y]');
    expect(variantId({ computation: 'c', with: { a: 'x', b: 'y' } })).toBe('c[a=x,b=y]');
  });
});

describe('a condition on a computation with another fact for an input', () => {
  // Truth: closed form: 40/20 radiographic is 25.41 operative, so with a stem at 12 the sums are 32 and 37.41; limit 34.
  const cup = { 'cup-inclination': 40, 'cup-anteversion': 20 };

  it('is judged on that fact: the same hip is inside by one definition and outside by the other', async () => {
    const values = { ...cup, 'stem-anteversion': 12 };
    expect((await judged(withRule(PLAIN), values)).advisory.outcome).toBe('does-not-fire');
    const { advisory, hip } = await judged(withRule(VARIANT), values);
    expect(advisory.outcome).toBe('fires');
    expect(advisory.when).toMatchObject({
      kind: 'compare',
      fact: OPERATIVE,
      found: hip.computed.get(OPERATIVE)?.shown,
      limit: 34,
    });
    expect(hip.computed.get(OPERATIVE)?.shown?.toFixed(2)).toBe('37.41');
  });

  it('shows its number and the facts it read, the one that stood in among them', async () => {
    const { advisory } = await judged(withRule(VARIANT), { ...cup, 'stem-anteversion': 12 });
    expect(advisory.fired?.computed.map(({ id }) => id)).toEqual([OPERATIVE]);
    expect(advisory.fired?.facts.map(({ id }) => id)).toEqual([
      'cup-anteversion-operative',
      'stem-anteversion-condylar',
    ]);
  });

  it('says what is missing by the measures behind the facts it reads', async () => {
    const rulebook = withRule(VARIANT);
    expect((await judged(rulebook, cup)).advisory).toMatchObject({
      outcome: 'cannot-tell',
      needs: ['stem-anteversion'],
    });
    expect(
      (await judged(rulebook, { 'cup-anteversion': 20, 'stem-anteversion': 12 })).advisory,
    ).toMatchObject({ outcome: 'cannot-tell', needs: ['cup-inclination'] });
  });

  it('takes no default for the fact that stands in: what was said for the input itself does not fit it', async () => {
    // Neck diameter of a head-neck ratio has a default; the skirt that stands in for it has none.
    const rulebook = withRule({
      fact: 'head-neck-ratio',
      with: { 'neck-diameter': 'skirt-diameter' },
      operator: 'below',
      value: { parameter: 'head-neck-ratio-preferred' },
    });
    const { hip, advisory } = await judged(rulebook, cup);
    expect(advisory.outcome).toBe('cannot-tell');
    expect(hip.computed.get('head-neck-ratio[neck-diameter=skirt-diameter]')?.shown).toBeUndefined();
    expect(advisory.needs).toEqual(['head-diameter', 'skirt-diameter']);
  });

  it('is decided alike by json-rules-engine and by the direct walk', async () => {
    // Truth: the project's design: two implementations of decide(), byte-identical trees.
    const rulebook = withRule({ ...VARIANT });
    for (const values of [cup, { ...cup, 'stem-anteversion': 12 }, { ...cup, 'stem-anteversion': 2 }]) {
      const { hip, advisory } = await judged(rulebook, values);
      const facts = new Map([
        ...hip.facts,
        ...[...hip.computed.values()].map(({ fact }) => [fact.id, fact] as const),
      ]);
      const rule = rulebook.rules.find(({ id }) => id === 'planted-sum');
      if (!rule) throw new Error('no planted rule');
      const read = leafFromFacts(facts);
      expect(JSON.stringify(advisory.when)).toBe(JSON.stringify(explain(rule.when, read)));
      expect(JSON.stringify(advisory.appliesWhen)).toBe(JSON.stringify(explain(rule.appliesWhen, read)));
    }
  });

  it('does not touch the computation itself, nor what other rules find', async () => {
    const values = { ...cup, 'stem-anteversion': 12 };
    const without = await judged(withRule(PLAIN), values);
    const beside = await judged(withRule(VARIANT), values);
    const others = (hip: HipEvaluation): readonly unknown[] =>
      hip.advisories
        .filter(({ rule }) => rule !== 'planted-sum')
        .map(({ rule, outcome, needs }) => ({ rule, outcome, needs }));
    expect(others(beside.hip)).toEqual(others(without.hip));
    expect(without.hip.computed.get('combined-anteversion')?.shown).toBe(32);
  });
});

describe('a number shown with another fact for an input', () => {
  it('is told with that fact among what the advisory rests on', async () => {
    const rulebook = withRule(VARIANT, {
      'anatomic-sum': {
        computation: 'combined-anteversion',
        with: { 'cup-anteversion': { fact: 'cup-anteversion-anatomic' } },
      },
    });
    const { advisory } = await judged(rulebook, {
      'cup-inclination': 40,
      'cup-anteversion': 20,
      'stem-anteversion': 12,
    });
    const number = advisory.fired?.numbers.get('anatomic-sum');
    // Truth: closed form: 40/20 radiographic is 29.52 anatomic.
    expect(number?.value.toFixed(2)).toBe('41.52');
    expect(advisory.fired?.facts.map(({ id }) => id)).toContain('cup-anteversion-anatomic');
  });
});
