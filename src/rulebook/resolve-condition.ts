import type { z } from 'zod';
import type { RulebookIssue } from './pack.js';
import { CODE_OPERATORS, NUMERIC_OPERATORS } from './schema.js';
import type { ConditionFile, namedConditionSchema } from './schema.js';
import type { Condition, Limit, Parameter } from './types.js';

export interface ConditionScope {
  readonly file: string;
  readonly parameters: ReadonlyMap<string, Parameter>;
  readonly named: ReadonlyMap<string, z.infer<typeof namedConditionSchema>>;
  /** What a leaf may name, and what it yields. */
  readonly kinds: ReadonlyMap<string, FactKind>;
  readonly issues: RulebookIssue[];
}

export interface FactKind {
  readonly yields: 'number' | 'code' | 'flag' | 'record';
  readonly unit?: string;
  readonly values?: readonly string[];
}

/** Puts parameters and named conditions into a condition; every fault is reported with its place. */
export function resolveCondition(condition: ConditionFile, path: string, scope: ConditionScope): Condition {
  if ('condition' in condition) return resolveNamed(condition.condition, path, scope);
  const name = condition.name === undefined ? {} : { name: condition.name };
  if ('all' in condition)
    return { kind: 'all', ...name, children: resolveAll(condition.all, `${path}.all`, scope) };
  if ('any' in condition)
    return { kind: 'any', ...name, children: resolveAll(condition.any, `${path}.any`, scope) };
  if ('not' in condition)
    return { kind: 'not', ...name, child: resolveCondition(condition.not, `${path}.not`, scope) };
  checkOperator(condition, path, scope);
  return {
    kind: 'leaf',
    ...name,
    fact: condition.fact,
    operator: condition.operator,
    limit: resolveLimit(condition, path, scope),
  };
}

function resolveAll(
  conditions: readonly ConditionFile[],
  path: string,
  scope: ConditionScope,
): readonly Condition[] {
  return conditions.map((condition, index) => resolveCondition(condition, `${path}[${index}]`, scope));
}

function resolveNamed(name: string, path: string, scope: ConditionScope): Condition {
  const named = scope.named.get(name);
  if (!named) {
    report(scope, `${path}.condition`, 'a file in conditions/', name);
    return { kind: 'all', name, children: [] };
  }
  // A named condition may not name another: the tree a clinician reads stays one step deep.
  const inner = resolveCondition(named.when, path, { ...scope, named: new Map() });
  return { ...inner, name };
}

type LeafFile = Extract<ConditionFile, { fact: string }>;

function resolveLimit(leaf: LeafFile, path: string, scope: ConditionScope): Limit {
  const { value } = leaf;
  if (typeof value !== 'object' || !('parameter' in value)) return { value };
  const parameter = scope.parameters.get(value.parameter);
  if (!parameter) {
    report(scope, `${path}.value`, 'a defined parameter', value.parameter);
    return { value: Number.NaN, parameter: value.parameter };
  }
  if (parameter.use === 'quoted')
    report(scope, `${path}.value`, 'a parameter that may be a threshold', `${value.parameter} (quoted only)`);
  if (typeof parameter.value !== 'number') {
    report(scope, `${path}.value`, 'a parameter that is one number', value.parameter);
    return { value: Number.NaN, parameter: value.parameter };
  }
  return { value: parameter.value, parameter: parameter.id, unit: parameter.unit };
}

/** A leaf must name something known, with an operator that fits what it yields, in the same unit. */
function checkOperator(leaf: LeafFile, path: string, scope: ConditionScope): void {
  const kind = scope.kinds.get(leaf.fact);
  if (!kind) {
    report(scope, `${path}.fact`, 'a fact or computation that is defined', leaf.fact);
    return;
  }
  const fits: Readonly<Record<FactKind['yields'], readonly string[]>> = {
    number: NUMERIC_OPERATORS,
    code: CODE_OPERATORS,
    flag: ['equal'],
    record: ['recorded'],
  };
  if (!fits[kind.yields].includes(leaf.operator)) {
    report(scope, `${path}.operator`, `one of ${fits[kind.yields].join(', ')}`, leaf.operator);
    return;
  }
  checkValue(leaf, kind, path, scope);
}

function checkValue(leaf: LeafFile, kind: FactKind, path: string, scope: ConditionScope): void {
  const { value } = leaf;
  const isParameter = typeof value === 'object' && 'parameter' in value;
  if (kind.yields === 'number' && !isParameter)
    report(scope, `${path}.value`, 'a parameter', JSON.stringify(value));
  if (kind.yields === 'number' && isParameter) {
    const unit = scope.parameters.get(value.parameter)?.unit;
    if (unit !== undefined && unit !== kind.unit)
      report(scope, `${path}.value`, `a parameter in ${kind.unit ?? 'no unit'}`, unit);
  }
  if ((kind.yields === 'flag' || kind.yields === 'record') && typeof value !== 'boolean') {
    report(scope, `${path}.value`, 'true or false', JSON.stringify(value));
  }
  if (kind.yields === 'record' && value === false) {
    // Absence is asked for by `not`, so that unknown stays unknown.
    report(scope, `${path}.value`, 'true (ask for absence with not)', 'false');
  }
  if (kind.yields === 'code') checkCodes(leaf, kind, path, scope);
}

function checkCodes(leaf: LeafFile, kind: FactKind, path: string, scope: ConditionScope): void {
  const { value } = leaf;
  const codes =
    typeof value === 'string' ? [value] : Array.isArray(value) ? (value as readonly string[]) : undefined;
  if (!codes || (leaf.operator === 'equal') !== (typeof value === 'string')) {
    report(
      scope,
      `${path}.value`,
      leaf.operator === 'equal' ? 'one code' : 'a list of codes',
      JSON.stringify(value),
    );
    return;
  }
  for (const code of codes) {
    if (kind.values && !kind.values.includes(code))
      report(scope, `${path}.value`, `one of ${kind.values.join(', ')}`, code);
  }
}

function report(scope: ConditionScope, path: string, expected: string, found: string): void {
  scope.issues.push({ file: scope.file, path, expected, found });
}
