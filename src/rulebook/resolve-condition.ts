import type { z } from 'zod';
import type { RulebookIssue } from './pack.js';
import { CODE_OPERATORS, NUMERIC_OPERATORS } from './rule-schema.js';
import type { ConditionFile, namedConditionSchema } from './rule-schema.js';
import type { ComputationFile, Condition, Limit, Parameter } from './types.js';
import { variantId } from './variants.js';

export interface ConditionScope {
  readonly file: string;
  readonly parameters: ReadonlyMap<string, Parameter>;
  readonly named: ReadonlyMap<string, z.infer<typeof namedConditionSchema>>;
  /** What a leaf may name, and what it yields. */
  readonly kinds: ReadonlyMap<string, FactKind>;
  readonly computations: ReadonlyMap<string, ComputationFile>;
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
    ...resolveFact(condition, path, scope),
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

/** What a leaf asks about: a fact or computation as it is, or a computation with other facts for some inputs. */
function resolveFact(
  leaf: LeafFile,
  path: string,
  scope: ConditionScope,
): Pick<Extract<Condition, { kind: 'leaf' }>, 'fact' | 'variant'> {
  const { fact, with: replaced } = leaf;
  if (replaced === undefined) return { fact };
  checkReplaced(fact, replaced, `${path}.with`, scope);
  const variant = { computation: fact, with: replaced };
  return { fact: variantId(variant), variant };
}

/** Each replaced input is one of that computation, and another number in the same unit stands in for it. */
function checkReplaced(
  computation: string,
  replaced: Readonly<Record<string, string>>,
  path: string,
  scope: ConditionScope,
): void {
  const file = scope.computations.get(computation);
  if (!file) {
    report(scope, path, 'a computation, whose inputs may be replaced', computation);
    return;
  }
  if (Object.keys(replaced).length === 0) report(scope, path, 'at least one replaced input', 'none');
  for (const [input, fact] of Object.entries(replaced)) {
    const own = scope.kinds.get(input);
    const other = scope.computations.has(fact) ? undefined : scope.kinds.get(fact);
    if (!file.inputs.some((one) => one.fact === input))
      report(scope, path, `an input of ${computation}`, input);
    else if (!other) report(scope, `${path}.${input}`, 'a fact that is defined', fact);
    else if (fact === input) report(scope, `${path}.${input}`, 'another fact than the input itself', fact);
    else if (other.yields !== 'number') report(scope, `${path}.${input}`, 'a fact that is a number', fact);
    else if (other.unit !== own?.unit)
      report(
        scope,
        `${path}.${input}`,
        `a fact in ${own?.unit ?? 'no unit'}`,
        `${fact} in ${other.unit ?? 'no unit'}`,
      );
  }
}

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

/** A count without an annotation may be held against one that says what is counted: in UCUM both are the unity. */
function isUnit(unit: string, wanted: string | undefined): boolean {
  return unit === wanted || (wanted === '1' && /^\{[^{}]+\}$/.test(unit));
}

function checkValue(leaf: LeafFile, kind: FactKind, path: string, scope: ConditionScope): void {
  const { value } = leaf;
  const isParameter = typeof value === 'object' && 'parameter' in value;
  if (kind.yields === 'number' && !isParameter)
    report(scope, `${path}.value`, 'a parameter', JSON.stringify(value));
  if (kind.yields === 'number' && isParameter) {
    const unit = scope.parameters.get(value.parameter)?.unit;
    if (unit !== undefined && !isUnit(unit, kind.unit))
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
