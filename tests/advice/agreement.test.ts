import { describe, expect, it } from 'vitest';
import { agreesWithReference } from '../../src/advice/index.js';
import type { AdviceInput } from '../../src/advice/index.js';
import { asDecide, compileDecide } from '../../src/engine/compiled-decide.js';
import type { Rule } from '../../src/rulebook/types.js';
import { advisor, inputFor, rulebook, testPatient } from './patients.js';

function callOf(patient: string): AdviceInput {
  const input = inputFor(testPatient(patient).bundle, 'order-sign');
  if (!input) throw new Error(`${patient} has nothing to sign`);
  return input;
}

const STEEP = callOf('steep-cup-large-head');

function advisorDeciding(change: (rule: Rule) => Rule): typeof advisor {
  return { ...advisor, decide: asDecide(compileDecide(rulebook.rules.map(change))) };
}

// Truth: independent implementation: json-rules-engine decides the same hips.
describe('the second opinion of a service', () => {
  it('is that of the first on the shipped rules, on every hip of the calls given', async () => {
    const calls = [STEEP, callOf('textbook-hip'), callOf('demo-parkinson-steep-cup')];
    expect(await agreesWithReference(advisor, calls)).toEqual({ agrees: true, hips: 3, differing: [] });
  });

  it('names every rule that compiled rules decide otherwise', async () => {
    const wrong = advisorDeciding((rule) =>
      rule.id === 'cup-inclination-outside-published'
        ? { ...rule, when: { kind: 'not', child: rule.when } }
        : rule,
    );
    const { agrees, differing } = await agreesWithReference(wrong, [STEEP]);
    expect([agrees, differing]).toEqual([false, ['cup-inclination-outside-published']]);
  });

  it('does not agree where a rule was left undecided, or cannot be decided by either', async () => {
    const left = { ...advisor, decide: asDecide(compileDecide(rulebook.rules.slice(1))) };
    expect((await agreesWithReference(left, [STEEP])).differing).toEqual([rulebook.rules[0]?.id]);
    const broken = rulebook.rules.map((rule, index): Rule =>
      index === 0
        ? { ...rule, when: { kind: 'leaf', fact: 'nowhere', operator: 'recorded', limit: { value: true } } }
        : rule,
    );
    const both = { ...advisor, rulebook: { ...rulebook, rules: broken } };
    const decide = asDecide(compileDecide(broken));
    expect((await agreesWithReference({ ...both, decide }, [STEEP])).differing).toEqual([broken[0]?.id]);
  });

  it('is no agreement where no call was about a hip', async () => {
    const lay = { ...STEEP, userId: `Patient/${STEEP.patientId}` };
    expect(await agreesWithReference(advisor, [lay])).toEqual({ agrees: false, hips: 0, differing: [] });
    expect((await agreesWithReference(advisor, [])).agrees).toBe(false);
  });
});
