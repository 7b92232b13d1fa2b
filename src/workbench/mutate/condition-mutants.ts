import type { ConditionFile } from '../../rulebook/rule-schema.js';
import type { Operator, Parameter, Rulebook } from '../../rulebook/types.js';
import { nudged, stepFor } from '../steps.js';
import type { MutantKind } from './mutant.js';

type LeafFile = Extract<ConditionFile, { fact: string }>;

/** A condition with one small change in it. */
export interface ConditionMutant {
  readonly kind: Extract<MutantKind, 'threshold' | 'operator' | 'branch' | 'code'>;
  readonly path: string;
  readonly change: string;
  readonly condition: ConditionFile;
  /** Parameters that stand under a name of their own, for a limit that moved. */
  readonly parameters: ReadonlyMap<string, Parameter>;
}

const NO_PARAMETERS: ReadonlyMap<string, Parameter> = new Map();

/** What each operator may be taken for. `not` stands for the opposite of those that have none of their own. */
export const FLIPS: Readonly<Record<Operator, readonly (Operator | 'not')[]>> = {
  above: ['at-least', 'below', 'clearly-above'],
  below: ['at-most', 'above', 'clearly-below'],
  'at-least': ['above', 'below'],
  'at-most': ['below', 'above'],
  'clearly-above': ['above', 'clearly-below'],
  'clearly-below': ['below', 'clearly-above'],
  equal: ['not'],
  'one-of': ['not'],
  recorded: ['not'],
};

/** Every small change of a condition, each made alone. What a named condition holds is changed in its own file. */
export function conditionMutants(
  condition: ConditionFile,
  path: string,
  rulebook: Rulebook,
): readonly ConditionMutant[] {
  if ('condition' in condition) return [];
  if ('fact' in condition)
    return [
      ...thresholdMutants(condition, path, rulebook),
      ...operatorMutants(condition, path, rulebook),
      ...thinnedLists(condition, path),
    ];
  if ('not' in condition) return notMutants(condition, path, rulebook);
  return groupMutants(condition, path, rulebook);
}

function thresholdMutants(leaf: LeafFile, path: string, rulebook: Rulebook): readonly ConditionMutant[] {
  const { value } = leaf;
  if (typeof value !== 'object' || !('parameter' in value)) return [];
  const parameter = rulebook.parameters.get(value.parameter);
  if (!parameter || typeof parameter.value !== 'number') return [];
  const { value: limit, unit } = parameter;
  const step = stepFor(leaf.fact, unit, rulebook);
  return [-1, 1].map((direction): ConditionMutant => {
    const moved = nudged(limit, direction, step);
    // Under a name of its own, so that only this comparison moves; the parameter keeps its id for the explanation.
    const name = `${value.parameter} moved`;
    return {
      kind: 'threshold',
      path: `${path}.value`,
      change: `${value.parameter} ${limit} → ${moved} ${unit}`,
      condition: { ...leaf, value: { parameter: name } },
      parameters: new Map([[name, { ...parameter, value: moved }]]),
    };
  });
}

function operatorMutants(leaf: LeafFile, path: string, rulebook: Rulebook): readonly ConditionMutant[] {
  return FLIPS[leaf.operator]
    .filter((other) => !isTheSame(leaf, other, rulebook))
    .map((other) => ({
      kind: 'operator',
      path: `${path}.operator`,
      change: `${leaf.fact} ${leaf.operator} → ${other === 'not' ? `not ${leaf.operator}` : other}`,
      condition: other === 'not' ? { not: leaf } : { ...leaf, operator: other },
      parameters: NO_PARAMETERS,
    }));
}

/** A value that never has a measuring band lies clearly above whatever it lies above. */
function isTheSame({ fact }: LeafFile, other: Operator | 'not', rulebook: Rulebook): boolean {
  if (!other.startsWith('clearly-')) return false;
  const file = rulebook.computations.get(fact);
  return file
    ? file.inputs.every((input) => isWithoutBand(input.fact, rulebook))
    : isWithoutBand(fact, rulebook);
}

function isWithoutBand(fact: string, { factById, knowledge }: Rulebook): boolean {
  return factById.get(fact)?.kind === 'measure' && !knowledge.measuringErrors.has(fact);
}

function thinnedLists(leaf: LeafFile, path: string): readonly ConditionMutant[] {
  const { value } = leaf;
  if (!Array.isArray(value) || value.length < 2) return [];
  const codes = value as readonly string[];
  return codes.map((code) => ({
    kind: 'code',
    path: `${path}.value`,
    change: `${leaf.fact} one-of without ${code}`,
    condition: { ...leaf, value: codes.filter((other) => other !== code) },
    parameters: NO_PARAMETERS,
  }));
}

function notMutants(
  condition: Extract<ConditionFile, { not: ConditionFile }>,
  path: string,
  rulebook: Rulebook,
): readonly ConditionMutant[] {
  const inner = conditionMutants(condition.not, `${path}.not`, rulebook);
  return [
    { kind: 'operator', path, change: 'not taken away', condition: condition.not, parameters: NO_PARAMETERS },
    ...inner.map((one) => ({ ...one, condition: { ...condition, not: one.condition } })),
  ];
}

type GroupFile = Extract<ConditionFile, { all: unknown } | { any: unknown }>;

function groupMutants(condition: GroupFile, path: string, rulebook: Rulebook): readonly ConditionMutant[] {
  const kind = 'all' in condition ? 'all' : 'any';
  const children = 'all' in condition ? condition.all : condition.any;
  const name = condition.name === undefined ? {} : { name: condition.name };
  const group = (which: 'all' | 'any', members: readonly ConditionFile[]): ConditionFile =>
    which === 'all' ? { ...name, all: members } : { ...name, any: members };
  const inner = children.flatMap((child, index) =>
    conditionMutants(child, `${path}.${kind}[${index}]`, rulebook).map((one) => ({
      ...one,
      condition: group(kind, children.with(index, one.condition)),
    })),
  );
  if (children.length < 2) return inner;
  const other = kind === 'all' ? 'any' : 'all';
  return [
    {
      kind: 'operator',
      path: `${path}.${kind}`,
      change: `${kind} → ${other}`,
      condition: group(other, children),
      parameters: NO_PARAMETERS,
    },
    ...children.map((child, index): ConditionMutant => ({
      kind: 'branch',
      path: `${path}.${kind}[${index}]`,
      change: `without ${titleOf(child)}`,
      condition: group(kind, children.toSpliced(index, 1)),
      parameters: NO_PARAMETERS,
    })),
    ...inner,
  ];
}

/** What a branch is about, in a few words. */
function titleOf(condition: ConditionFile): string {
  if ('condition' in condition) return condition.condition;
  if (condition.name !== undefined) return condition.name;
  if ('fact' in condition) {
    const { fact, operator, value } = condition;
    if (operator === 'recorded') return fact;
    const limit = typeof value === 'object' && 'parameter' in value ? value.parameter : value;
    return `${fact} ${operator} ${Array.isArray(limit) ? limit.join(' or ') : String(limit)}`;
  }
  if ('not' in condition) return `not ${titleOf(condition.not)}`;
  return 'all' in condition ? `all of ${condition.all.length}` : `any of ${condition.any.length}`;
}
