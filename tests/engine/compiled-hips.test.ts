import { describe, expect, it } from 'vitest';
import { advise, newAdvisor } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { asDecide, compileDecide } from '../../src/engine/compiled-decide.js';
import type { ConditionOutcome } from '../../src/engine/compiled-decide.js';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { PROFILES, synthesizeHips } from '../../src/workbench/synthesize/synthesize-hips.js';
import { inputFor, rulebook, testPatients } from '../advice/patients.js';
import { atMost } from '../long-form.js';
import { decidedAlike } from './decided-alike.js';

const EACH_PROFILE = atMost(200, 500);

const { rules } = rulebook;
const engine = jsonRulesDecide(rules);
const compiled = compileDecide(rules);

/** A comparison that never met one of them would have seen only a part. */
const FOUR = ['cannot-tell', 'does-not-fire', 'fires', 'not-applicable'];

/** The outcomes of every rule on every hip that a call is about, the hips decided alike by both evaluators. */
async function outcomesOf(input: AdviceInput): Promise<readonly (readonly ConditionOutcome[])[]> {
  const outcomes: (readonly ConditionOutcome[])[] = [];
  const both = newAdvisor(rulebook, COMPUTATIONS, async (facts) => {
    const alike = await decidedAlike(engine, compiled, facts);
    outcomes.push(alike.outcomes);
    return alike.decisions;
  });
  const advice = await advise(input, both);
  const told = advice.kind === 'answer' ? advice.hips.map(({ advisories }) => advisories) : [];
  expect(told.map((advisories) => advisories.map(({ outcome }) => outcome))).toEqual(outcomes);
  return outcomes;
}

function inputsFor(bundle: JsonObject, now?: string): readonly AdviceInput[] {
  return ['appointment-book', 'order-sign', 'patient-view'].flatMap(
    (hook) => inputFor(bundle, hook, now) ?? [],
  );
}

// Truth: independent implementation: json-rules-engine, and the outcomes an evaluation makes of its trees.
describe('compiled rules', () => {
  it('decide every rule on every hip of the test patients as json-rules-engine does', async () => {
    const met = new Set<string>();
    for (const { bundle, expected } of testPatients()) {
      for (const input of inputsFor(bundle, expected.now))
        for (const outcomes of await outcomesOf(input)) outcomes.forEach((outcome) => met.add(outcome));
    }
    expect([...met].sort()).toEqual(FOUR);
  });

  it(`decide every rule on ${2 * EACH_PROFILE} synthetic hips, half of them wholly planned, as json-rules-engine does`, async () => {
    const met = new Set<string>();
    let hips = 0;
    for (const profile of PROFILES) {
      for (const { id, bundle } of synthesizeHips({ seed: 5, count: EACH_PROFILE, profile })) {
        const input = inputFor(bundle, 'order-sign');
        if (!input) throw new Error(`${id} has no order to sign`);
        for (const outcomes of await outcomesOf(input)) {
          hips += 1;
          outcomes.forEach((outcome) => met.add(outcome));
        }
      }
    }
    expect(hips).toBeGreaterThanOrEqual(2 * EACH_PROFILE);
    expect([...met].sort()).toEqual(FOUR);
  }, 60_000);

  it('give the same advice as json-rules-engine, cards and evaluation, to the byte', async () => {
    const [advisor, other] = [asDecide(compiled), engine].map((decide) =>
      newAdvisor(rulebook, COMPUTATIONS, decide),
    );
    if (!advisor || !other) throw new Error('expected two advisors');
    for (const { name, bundle, expected } of testPatients()) {
      for (const input of inputsFor(bundle, expected.now)) {
        const [advice, usual] = [await advise(input, advisor), await advise(input, other)];
        if (advice.kind !== 'answer' || usual.kind !== 'answer') throw new Error(`${name}: ${advice.kind}`);
        expect(JSON.stringify(advice.cards), name).toBe(JSON.stringify(usual.cards));
        expect(JSON.stringify(advice.evaluation?.()), name).toBe(JSON.stringify(usual.evaluation?.()));
      }
    }
  });
});
