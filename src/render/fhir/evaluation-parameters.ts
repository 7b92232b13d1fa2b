import type { Parameters, ParametersParameter } from 'fhir/r4.js';
import { foundIn } from '../../engine/compare.js';
import type { Computed } from '../../engine/compute.js';
import type { Advisory, HipEvaluation } from '../../engine/evaluate.js';
import type { Fact } from '../../facts/fact.js';
import type { Rulebook } from '../../rulebook/types.js';
import { readableTree } from '../readable-tree.js';
import type { ReadableNode, TreeScope } from '../readable-tree.js';
import { TRUTH_TITLES, foundText, hipTitle } from '../words.js';
import type { EvaluationScope, Named } from './evaluation-scope.js';

const UCUM = 'http://unitsofmeasure.org';

/** The evaluation of one hip: every advisory with its sentence and tree, the facts it rests on, the numbers worked out. */
export function evaluationParameters(hip: HipEvaluation, { rulebook }: EvaluationScope): Parameters & Named {
  const scope: TreeScope = {
    rulebook,
    facts: hip.facts,
    inputsOf: (id) => hip.computed.get(id)?.inputs,
  };
  return {
    resourceType: 'Parameters',
    id: 'evaluation',
    parameter: [
      { name: 'hip', valueCode: hip.hip },
      { name: 'construct', valueCode: hip.construct },
      { name: 'about', valueString: hipTitle(hip.hip, hip.construct) },
      ...hip.advisories.map((advisory) => advisoryPart(advisory, scope)),
      ...[...hip.facts.values()].flatMap((fact) => factPart(fact, rulebook)),
      ...[...hip.computed.values()].flatMap(computedPart),
    ],
  };
}

function advisoryPart(advisory: Advisory, scope: TreeScope): ParametersParameter {
  const { rule, ruleVersion, outcome, needs, broken, appliesWhen, when, fired } = advisory;
  const isApplicable = outcome !== 'not-applicable';
  return {
    name: 'advisory',
    part: [
      { name: 'rule', valueCode: rule },
      { name: 'version', valueString: ruleVersion },
      { name: 'outcome', valueCode: outcome },
      { name: 'says', valueString: sentenceOf(advisory, scope.rulebook) },
      ...(broken ? [{ name: 'broken', valueBoolean: true }] : []),
      ...needs.map((need) => ({ name: 'needs', valueCode: need })),
      ...(fired ? [{ name: 'data', valueCode: fired.data }] : []),
      ...(fired?.assumptions ?? []).map((text) => ({ name: 'assumption', valueString: text })),
      ...(appliesWhen && isApplicable ? [tree('appliesWhen', readableTree(appliesWhen, scope))] : []),
      ...(when && isApplicable ? [tree('when', readableTree(when, scope))] : []),
    ],
  };
}

/** The sentence a rule has for an outcome. */
function sentenceOf({ rule: id, outcome }: Advisory, { rules }: Rulebook): string {
  const messages = rules.find((rule) => rule.id === id)?.messages;
  if (!messages) throw new RangeError(`no rule ${id}`);
  switch (outcome) {
    case 'fires':
      return messages.fires;
    case 'does-not-fire':
      return messages.doesNotFire;
    case 'cannot-tell':
      return messages.cannotTell;
    case 'not-applicable':
      return messages.notApplicable;
  }
}

function tree(name: string, node: ReadableNode): ParametersParameter {
  return { name, valueString: linesOf(node).join('\n') };
}

/** A tree as lines: a hyphen for each level, the truth, what was asked, found, and noted. */
function linesOf(node: ReadableNode, level = 0): readonly string[] {
  const { truth, asked, found, notes, children } = node;
  const said = [asked, ...(found === undefined ? [] : [`found ${found}`]), ...notes].join('; ');
  return [
    `${'-'.repeat(level + 1)} ${TRUTH_TITLES[truth]}: ${said}`,
    ...children.flatMap((child) => linesOf(child, level + 1)),
  ];
}

/** A fact that is known, with what doubts it; a number stands as one. */
function factPart(fact: Fact, rulebook: Rulebook): readonly ParametersParameter[] {
  const { id, state, unit, provenance, remarks, assumptions = [] } = fact;
  if (state.status !== 'present') return [];
  const { found } = foundIn(state.value);
  const from = provenance.from.map((name) => ({ name: 'from', valueString: name }));
  const doubts = [...remarks, ...assumptions].map((text) => ({ name: 'remark', valueString: text }));
  return [
    {
      name: 'fact',
      part: [
        { name: 'id', valueCode: id },
        typeof found === 'number'
          ? quantity(found, unit)
          : { name: 'value', valueString: foundText(found, unit, rulebook) },
        ...from,
        ...doubts,
      ],
    },
  ];
}

function computedPart({ id, shown, unit, motion, assumptions }: Computed): readonly ParametersParameter[] {
  if (shown === undefined) return [];
  return [
    {
      name: 'computed',
      part: [
        { name: 'id', valueCode: id },
        quantity(shown, unit),
        ...(motion === undefined ? [] : [{ name: 'motion', valueString: motion }]),
        ...assumptions.map((text) => ({ name: 'assumption', valueString: text })),
      ],
    },
  ];
}

function quantity(value: number, unit: string | undefined): ParametersParameter {
  return {
    name: 'value',
    valueQuantity: { value, ...(unit !== undefined && { unit, system: UCUM, code: unit }) },
  };
}
