import type { Interval } from '../base/interval.js';
import { roundForUnit } from '../base/rounding.js';
import { degrees } from '../base/units.js';
import { cupAnteversionForStem } from '../biomechanics/orientation/combined-anteversion.js';
import { exactNumber } from '../facts/fact.js';
import { couplingLine } from '../rulebook/coupling-line.js';
import { numberOf } from '../rulebook/resolve-facts.js';
import type { Compute } from '../rulebook/types.js';
import { run, show } from './compute.js';
import type { ComputeScope } from './compute.js';

/** A number a message shows beside the facts, by the name the rule gives it. */
export interface ShownNumber {
  readonly value: number;
  readonly unit: string;
  readonly assumptions: readonly string[];
  readonly motion?: string;
  /** Inputs that differ from the plan, for whoever checks the number. */
  readonly with: Readonly<Record<string, number>>;
  /** Facts that stand in for inputs. */
  readonly standIns: readonly string[];
  readonly computation?: string;
}

/**
 * The wanted numbers of a rule's `compute`, in the order written. A number that can't be had is left out, also where the
 * values lie outside what its model is made for: a card must not be lost over a number beside it.
 */
export function computeForRule(
  compute: Readonly<Record<string, Compute>> | undefined,
  wanted: ReadonlySet<string>,
  scope: ComputeScope,
): ReadonlyMap<string, ShownNumber> {
  const numbers = new Map<string, ShownNumber>();
  for (const [name, one] of Object.entries(compute ?? {})) {
    if (!wanted.has(name)) continue;
    const number = insideModel(() => shownNumber(one, numbers, scope));
    if (number) numbers.set(name, number);
  }
  return numbers;
}

function insideModel(compute: () => ShownNumber | undefined): ShownNumber | undefined {
  try {
    return compute();
  } catch (error) {
    if (error instanceof RangeError) return undefined;
    throw error;
  }
}

type Source = { readonly parameter: string } | { readonly computed: string } | { readonly fact: string };
type Inputs = Readonly<Record<string, Source>> | undefined;

function shownNumber(
  compute: Compute,
  numbers: ReadonlyMap<string, ShownNumber>,
  scope: ComputeScope,
): ShownNumber | undefined {
  if ('computation' in compute) {
    const replaced = resolveInputs(compute.with, numbers, scope);
    if (!replaced || (compute.onlyLarger && !isLarger(replaced, scope))) return undefined;
    const number = one(compute.computation, replaced, scope, compute.motionSet);
    return number && { ...number, standIns: standInsOf(compute.with) };
  }
  if ('change' in compute) return changeNumber(compute.change, numbers, scope);
  if ('line' in compute) return lineNumber(compute.line, scope);
  return matchingNumber(compute.matching, numbers, scope);
}

function isLarger(replaced: Readonly<Record<string, number>>, scope: ComputeScope): boolean {
  return Object.entries(replaced).every(
    ([fact, value]) => value > (exactNumber(scope.facts.get(fact)) ?? Infinity),
  );
}

function one(
  computation: string,
  replaced: Readonly<Record<string, number>>,
  scope: ComputeScope,
  motionSet?: { readonly parameter: string },
): ShownNumber | undefined {
  const file = scope.rulebook.computations.get(computation);
  if (!file) return undefined;
  const shown = show(motionSet ? { ...file, motionSet } : file, scope, replaced);
  if (shown.value === undefined) return undefined;
  return {
    value: shown.value,
    unit: file.unit,
    assumptions: shown.assumptions,
    ...(shown.motion !== undefined && { motion: shown.motion }),
    with: replaced,
    standIns: [],
    computation,
  };
}

function resolveInputs(
  inputs: Inputs,
  numbers: ReadonlyMap<string, ShownNumber>,
  scope: ComputeScope,
): Readonly<Record<string, number>> | undefined {
  const resolved: Record<string, number> = {};
  for (const [fact, source] of Object.entries(inputs ?? {})) {
    const value = valueOf(source, numbers, scope);
    if (value === undefined) return undefined;
    resolved[fact] = value;
  }
  return resolved;
}

function valueOf(
  source: Source,
  numbers: ReadonlyMap<string, ShownNumber>,
  scope: ComputeScope,
): number | undefined {
  if ('parameter' in source) return numberOf(source.parameter, scope.rulebook.parameters);
  if ('computed' in source) return numbers.get(source.computed)?.value;
  return exactNumber(scope.facts.get(source.fact));
}

function standInsOf(inputs: Inputs): readonly string[] {
  return Object.values(inputs ?? {}).flatMap((source) => ('fact' in source ? [source.fact] : []));
}

/** How much a computation changes when one input grows by a step, per unit of that input. */
function changeNumber(
  change: Extract<Compute, { change: unknown }>['change'],
  numbers: ReadonlyMap<string, ShownNumber>,
  scope: ComputeScope,
): ShownNumber | undefined {
  const replaced = resolveInputs(change.with, numbers, scope);
  const start = replaced?.[change.per] ?? exactNumber(scope.facts.get(change.per));
  if (!replaced || start === undefined) return undefined;
  const step = numberOf(change.step.parameter, scope.rulebook.parameters);
  const before = one(change.computation, replaced, scope);
  const after = one(change.computation, { ...replaced, [change.per]: start + step }, scope);
  if (!before || !after) return undefined;
  const unit = `${before.unit}/${unitOfFact(change.per, scope)}`;
  return {
    value: roundForUnit((after.value - before.value) / step, 'mm'),
    unit,
    assumptions: before.assumptions,
    with: replaced,
    standIns: standInsOf(change.with),
  };
}

/** The cup anteversion that a published line asks of a stem; left out above the limit given. */
function lineNumber(
  { parameter, stem, atMost }: Extract<Compute, { line: unknown }>['line'],
  scope: ComputeScope,
): ShownNumber | undefined {
  const { parameters } = scope.rulebook;
  const line = couplingLine(parameters.get(parameter)?.value);
  const version = exactNumber(scope.facts.get(stem));
  const unit = parameters.get(parameter)?.unit;
  if (!line || unit === undefined || version === undefined) return undefined;
  const { sum, stemWeight } = line;
  const value = roundForUnit(
    cupAnteversionForStem(degrees(version), { sum: degrees(sum), stemWeight }),
    unit,
  );
  if (atMost && value > numberOf(atMost.parameter, parameters)) return undefined;
  return { value, unit, assumptions: [], with: {}, standIns: [stem] };
}

/** The whole-number input whose result comes closest to another number; the smaller one on a tie. */
function matchingNumber(
  matching: Extract<Compute, { matching: unknown }>['matching'],
  numbers: ReadonlyMap<string, ShownNumber>,
  scope: ComputeScope,
): ShownNumber | undefined {
  const target = numbers.get(matching.equals)?.value;
  const replaced = resolveInputs(matching.with, numbers, scope);
  const range = scope.rulebook.parameters.get(matching.within.parameter)?.value;
  if (target === undefined || !replaced || !Array.isArray(range)) return undefined;
  const [low, high] = range;
  if (typeof low !== 'number' || typeof high !== 'number') return undefined;
  const file = scope.rulebook.computations.get(matching.computation);
  // The other inputs stay as they are, so they are put together once.
  const start = file && show(file, scope, { ...replaced, [matching.vary]: low });
  if (!file || start?.value === undefined) return undefined;
  const { inputs } = start;
  const at = (candidate: number): number =>
    run(file, scope, { ...inputs, [matching.vary]: candidate })?.value ?? NaN;
  const best = closestWhole({ low: Math.ceil(low), high: Math.floor(high) }, target, at);
  return best === undefined
    ? undefined
    : {
        value: best,
        unit: unitOfFact(matching.vary, scope),
        assumptions: [],
        with: replaced,
        standIns: standInsOf(matching.with),
      };
}

/**
 * The whole number of a range at which a rising function comes closest to a target, by bisection; the smaller one on
 * a tie. Undefined when the target lies outside what the range reaches: the nearest end would be taken for equal.
 */
function closestWhole(
  range: Interval,
  target: number,
  at: (candidate: number) => number,
): number | undefined {
  let { low, high } = range;
  if (!(target >= at(low) && target <= at(high))) return undefined;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (at(middle) < target) low = middle;
    else high = middle;
  }
  return target - at(low) <= at(high) - target ? low : high;
}

function unitOfFact(id: string, scope: ComputeScope): string {
  const fact = scope.rulebook.factById.get(id);
  return (fact && 'unit' in fact ? fact.unit : undefined) ?? '1';
}
