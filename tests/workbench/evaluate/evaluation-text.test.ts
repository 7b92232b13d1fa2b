import { describe, expect, it } from 'vitest';
import { cardText } from '../../../src/render/text.js';
import { evaluationText } from '../../../src/workbench/evaluate/evaluation-text.js';
import { readableEvaluation } from '../../../src/workbench/evaluate/readable.js';
import { rulebook, testPatients } from '../../advice/patients.js';
import { evaluationNamed, evaluationOf } from './evaluations.js';

async function textOf(name: string): Promise<string> {
  const { answers } = await evaluationNamed(name);
  return evaluationText(readableEvaluation(answers, rulebook), cardText, 'The whole record.');
}

describe('the text of an evaluation', () => {
  it('shows the cards, and behind them the value found, the limit, its source and where the value came from', async () => {
    const text = await textOf('demo-parkinson-steep-cup');
    expect(text).toContain('Order being signed (order-sign): 3 cards');
    expect(text).toMatch(/\[warning\] Left hip, planned: cup 60°/);
    // The rule's own limit is 58° (clinical decisions section 3); the plan says 60° on 2 November.
    expect(text).toMatch(
      /\[yes\] cup inclination clearly above 58°; found 60°\n.*named steep\n.*limit: cup-inclination-published-high\n.*planned · 2 Nov 2026 · as found 60 deg · Observation\/planned-cup-inclination-3/,
    );
    expect(text).toMatch(/\[no \] cup inclination clearly below 30°; found 60°/);
  });

  it('says what is missing, why, and what would tell', async () => {
    const text = await textOf('demo-parkinson-steep-cup');
    expect(text).toMatch(/CANNOT TELL {2}abductor-loss [\s\S]*?missing: abductor strength\n/);
    expect(text).toMatch(
      /\[ \? \] abductor strength at most 3\n.*limit: abductor-strength-deficient\n +not recorded/,
    );
    expect(text).toMatch(/something it is worked out from is missing\n.*would be told by: stem anteversion/);
    expect(text).toContain('- abductor strength: 1 (alone 1): abductor-loss');
  });

  it('tells a card that an earlier hook has told by its summary only', async () => {
    const text = await textOf('demo-parkinson-steep-cup');
    expect(text.split('a larger head adds 0.26 mm per mm at 60°')).toHaveLength(2);
    expect(text).toContain('word for word as at order-sign');
  });

  it('has every rule once for each hip and construct, without a hole, and says who decides', async () => {
    for (const { name, bundle } of testPatients()) {
      const { answers } = await evaluationOf(bundle);
      if (answers.length === 0) continue;
      const readable = readableEvaluation(answers, rulebook);
      for (const { rules } of readable.hips)
        expect(rules.map(({ rule }) => rule).sort()).toEqual(rulebook.rules.map(({ id }) => id).sort());
      const text = evaluationText(readable, cardText, 'The whole record.');
      expect({ name, holes: /undefined|NaN|\[object|null/.exec(text) }).toEqual({ name, holes: null });
      expect(text.trimEnd().endsWith(rulebook.about.deferral)).toBe(true);
    }
  });
});
