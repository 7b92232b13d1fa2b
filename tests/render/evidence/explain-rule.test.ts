import { describe, expect, it } from 'vitest';
import { explainRule } from '../../../src/render/evidence/explain-rule.js';
import type { ExplainedNode, ExplainedRule } from '../../../src/render/evidence/explain-rule.js';
import { explainText } from '../../../src/workbench/explain/explain-text.js';
import { nearestNames } from '../../../src/workbench/explain/nearest.js';
import { rulebook, testPatients } from '../../advice/patients.js';

function explained(id: string): ExplainedRule {
  const rule = rulebook.rules.find((one) => one.id === id);
  if (!rule) throw new Error(`no rule ${id}`);
  return explainRule(rule, rulebook, testPatients());
}

function leaves(node: ExplainedNode): readonly ExplainedNode[] {
  return node.children.length === 0 ? [node] : node.children.flatMap(leaves);
}

describe('a rule explained', () => {
  it('tells its limits with value, unit, source and how far that was read', () => {
    const { firesWhen, parameters } = explained('cup-inclination-outside-published');
    // Clinical decisions section 3: the union of the ranges read for inclination is 30 to 58.
    expect(leaves(firesWhen)).toEqual([
      {
        asked: 'cup inclination clearly above 58°',
        name: 'steep',
        parameter: 'cup-inclination-published-high',
        children: [],
      },
      {
        asked: 'cup inclination clearly below 30°',
        name: 'flat',
        parameter: 'cup-inclination-published-low',
        children: [],
      },
    ]);
    expect(parameters.find(({ id }) => id === 'cup-inclination-published-high')).toMatchObject({
      value: 58,
      unit: 'deg',
      readAt: 'secondary source',
      citations: expect.arrayContaining(['turley-2014']) as unknown,
    });
  });

  it('names exactly the test patients that expect its card, with the hooks', () => {
    // Truth: the expectations of the test patients.
    for (const { id } of rulebook.rules) {
      const expecting = testPatients().filter(({ expected }) =>
        Object.values(expected.cards).some((cards) => cards.some(({ rule }) => rule === id)),
      );
      expect(explained(id).patients.map(({ name }) => name)).toEqual(expecting.map(({ name }) => name));
    }
    expect(explained('neurological-disease').patients).toContainEqual(
      expect.objectContaining({
        name: 'demo-parkinson-steep-cup',
        hooks: ['appointment-book', 'order-sign'],
      }),
    );
  });

  it('finds every parameter its conditions compare with', () => {
    for (const { id } of rulebook.rules) {
      const { appliesWhen, firesWhen, parameters } = explained(id);
      const compared = [...leaves(appliesWhen), ...leaves(firesWhen)].flatMap(
        ({ parameter }) => parameter ?? [],
      );
      expect(parameters.map((one) => one.id)).toEqual(expect.arrayContaining(compared));
    }
  });

  it('is told for every rule with the sentence of each outcome, each citation and who decides', () => {
    for (const { id, messages, citations = [] } of rulebook.rules) {
      const text = explainText(explained(id), rulebook.about.deferral);
      for (const sentence of Object.values(messages)) expect(text).toContain(sentence);
      for (const { key } of citations) expect(text).toContain(`[${key}]`);
      expect(text).toContain(rulebook.about.deferral);
      expect(text).not.toMatch(/undefined|NaN|\[object/);
    }
  });

  it('tells a named group once', () => {
    const text = explainText(explained('spine-phenotype'), rulebook.about.deferral);
    expect(text.split('(named spine-stiff)')).toHaveLength(2);
    expect(text).toContain('- spine-stiff, as above');
  });
});

describe('the nearest names', () => {
  const names = ['cup-off-plan', 'cup-retroversion-confirmed', 'spine-phenotype', 'abductor-loss'];

  it.each([
    ['cup-of-plan', ['cup-off-plan']],
    ['retroversion', ['cup-retroversion-confirmed']],
    ['Spine_Phenotype', ['spine-phenotype']],
    ['something-else-altogether', []],
  ])('of %s are %j', (wrong, expected) => {
    expect(nearestNames(wrong, names)).toEqual(expected);
  });
});
