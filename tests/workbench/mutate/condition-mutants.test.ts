import { describe, expect, it } from 'vitest';
import type { ConditionFile } from '../../../src/rulebook/rule-schema.js';
import { OPERATORS } from '../../../src/rulebook/rule-schema.js';
import { conditionMutants, FLIPS } from '../../../src/workbench/mutate/condition-mutants.js';
import { nudged, stepFor, STEPS } from '../../../src/workbench/steps.js';
import { shipped } from '../shipped-cases.js';

function changes(condition: ConditionFile): readonly string[] {
  return conditionMutants(condition, 'when', shipped).map(
    ({ kind, path, change }) => `${kind} ${path}: ${change}`,
  );
}

describe('the small changes of a condition', () => {
  it('nudge a threshold by its unit, up and down, and take its operator for each neighbor', () => {
    const steep = {
      fact: 'cup-inclination',
      operator: 'clearly-above',
      value: { parameter: 'cup-inclination-published-high' },
    } as const;
    expect(changes(steep)).toEqual([
      'threshold when.value: cup-inclination-published-high 58 → 57.9 deg',
      'threshold when.value: cup-inclination-published-high 58 → 58.1 deg',
      'operator when.operator: cup-inclination clearly-above → above',
      'operator when.operator: cup-inclination clearly-above → clearly-below',
    ]);
  });

  it('take each branch of a group away once, turn the group over, and change each leaf alone', () => {
    const either = {
      any: [
        { fact: 'dementia', operator: 'recorded', value: true },
        { not: { fact: 'paresis', operator: 'recorded', value: true } },
        { condition: 'spine-stiff' },
      ],
    } as const;
    expect(changes(either)).toEqual([
      'operator when.any: any → all',
      'branch when.any[0]: without dementia',
      'branch when.any[1]: without not paresis',
      'branch when.any[2]: without spine-stiff',
      'operator when.any[0].operator: dementia recorded → not recorded',
      'operator when.any[1]: not taken away',
      'operator when.any[1].not.operator: paresis recorded → not recorded',
    ]);
  });

  it('thin a list of codes one code at a time, and leave a list of one alone', () => {
    const list = (value: readonly string[]): ConditionFile => ({
      fact: 'dislocation-direction',
      operator: 'one-of',
      value: [...value],
    });
    expect(changes(list(['posterior', 'anterior'])).filter((change) => change.startsWith('code'))).toEqual([
      'code when.value: dislocation-direction one-of without posterior',
      'code when.value: dislocation-direction one-of without anterior',
    ]);
    expect(changes(list(['posterior'])).filter((change) => change.startsWith('code'))).toEqual([]);
  });

  it('do not ask whether a value without a measuring band is clearly above: it is whenever it is above', () => {
    const worn = {
      fact: 'head-penetration',
      operator: 'above',
      value: { parameter: 'head-penetration-total-high' },
    } as const;
    expect(changes(worn).some((change) => change.includes('clearly'))).toBe(false);
    const offset = {
      fact: 'projected-global-offset-difference',
      operator: 'below',
      value: { parameter: 'global-offset-difference-low' },
    } as const;
    expect(changes(offset).some((change) => change.includes('clearly'))).toBe(false);
  });

  it('change one thing each and leave the condition given as it was', () => {
    const all = {
      all: [{ fact: 'dementia', operator: 'recorded', value: true }, { condition: 'spine-stiff' }],
    } as const;
    const before = JSON.stringify(all);
    const made = conditionMutants(all, 'when', shipped).map(({ condition }) => JSON.stringify(condition));
    expect(new Set(made).size).toBe(made.length);
    expect(made).not.toContain(before);
    expect(JSON.stringify(all)).toBe(before);
  });

  it('have another operator for every one there is', () => {
    for (const operator of OPERATORS) {
      expect(FLIPS[operator].length, operator).toBeGreaterThan(0);
      expect(FLIPS[operator]).not.toContain(operator);
    }
  });
});

describe('the step of a threshold', () => {
  it('is known for the unit of every limit in use', () => {
    const units = [...shipped.parameters.values()]
      .filter(({ use }) => use !== 'quoted')
      .map(({ unit }) => unit);
    expect(units.length).toBeGreaterThan(50);
    for (const unit of ['deg', 'mm', '1', 'mm/a', '{grade}']) expect(units).toContain(unit);
    expect(STEPS['deg']).toBe(0.1);
    expect(STEPS['mm']).toBe(0.1);
  });

  it('is one for counts and grades, and a hundredth for ratios', () => {
    expect(stepFor('dislocation-count', '1', shipped)).toBe(1);
    expect(stepFor('reduced-dislocations', '1', shipped)).toBe(1);
    expect(stepFor('abductor-strength', '{grade}', shipped)).toBe(1);
    expect(stepFor('head-neck-ratio', '1', shipped)).toBe(0.01);
  });

  it('moves a limit without the dust of binary fractions', () => {
    expect(nudged(58, 1, 0.1)).toBe(58.1);
    expect(nudged(2.37, -1, 0.01)).toBe(2.36);
    expect(nudged(-13, -1, 0.1)).toBe(-13.1);
  });
});
