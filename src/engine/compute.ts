import { spanOf } from '../base/interval.js';
import type { Interval } from '../base/interval.js';
import { sortedUnique } from '../base/order.js';
import { roundForUnit } from '../base/rounding.js';
import { degrees } from '../base/units.js';
import type { NamedPose } from '../biomechanics/motion/pose.js';
import { NO_PROVENANCE, exactNumber, quantityOf, unknownFact } from '../facts/fact.js';
import type { Fact, FactState } from '../facts/fact.js';
import { numberOf } from '../rulebook/resolve-facts.js';
import type { Rulebook } from '../rulebook/types.js';
import { askedComputations } from './asked-computations.js';
import type { Asked, AskedFile, AskedInput } from './asked-computations.js';
import type { ComputationTable } from './computation.js';
import type { FactMap } from './decide.js';

/** A computation as rules and readers see it. */
export interface Computed {
  readonly id: string;
  readonly unit: string;
  /** What it decides with: an interval when an input is one, or may be anything plausible. */
  readonly fact: Fact;
  /** The number to show, with defaults where an input is missing; undefined when even that can't be had. */
  readonly shown?: number;
  readonly motion?: string;
  readonly inputs: Readonly<Record<string, number>>;
  /** The facts its inputs are taken from. */
  readonly reads: readonly string[];
  readonly assumptions: readonly string[];
  readonly failure?: unknown;
}

export interface ComputeScope {
  readonly rulebook: Rulebook;
  readonly table: ComputationTable;
  readonly facts: FactMap;
}

/**
 * Runs computations of the rulebook on one hip's facts, with the variants its conditions ask about, all or those named.
 * A broken one leaves the others alone.
 */
export function computeAll(scope: ComputeScope, named?: ReadonlySet<string>): ReadonlyMap<string, Computed> {
  const asked = askedComputations(scope.rulebook).filter(({ id }) => named?.has(id) ?? true);
  return new Map(asked.map((one) => [one.id, computeOne(one, scope)]));
}

function computeOne({ id, file }: Asked, scope: ComputeScope): Computed {
  const reads = readsOf(file);
  try {
    const shown = show(file, scope, {});
    const state = decideState(file, scope, shown);
    const band = bandOf(file, scope);
    const narrowedBy = sortedUnique([...state.narrowedBy, ...band.inputs]);
    const fact: Fact = {
      id,
      state: state.state,
      unit: file.unit,
      ...(band.error !== undefined && { error: band.error }),
      provenance: NO_PROVENANCE,
      remarks: [],
      ...(narrowedBy.length > 0 && { narrowedBy }),
    };
    return {
      id,
      unit: file.unit,
      fact,
      inputs: inputsTold(file, shown, scope),
      reads,
      assumptions: shown.assumptions,
      ...numberShown(shown),
    };
  } catch (failure) {
    const state: FactState = { status: 'unknown', reason: 'could-not-evaluate', needs: [id] };
    const fact: Fact = { id, state, unit: file.unit, provenance: NO_PROVENANCE, remarks: [] };
    return { id, unit: file.unit, fact, inputs: {}, reads, assumptions: [], failure };
  }
}

/** Computations belong to the rulebook and never change: what one reads is listed once. */
const readBy = new WeakMap<AskedFile, readonly string[]>();

function readsOf(file: AskedFile): readonly string[] {
  const known = readBy.get(file);
  if (known) return known;
  const reads = file.inputs.map(({ fact }) => fact);
  readBy.set(file, reads);
  return reads;
}

/** The numbers a result was worked out from, with those of the rulebook. */
function inputsTold(
  file: AskedFile,
  { value, inputs }: Shown,
  { rulebook }: ComputeScope,
): Readonly<Record<string, number>> {
  return value === undefined || !file.parameters ? inputs : { ...inputs, ...numbersOf(file, rulebook) };
}

/**
 * How far the measuring bands of the inputs carry. Where the result only rises or falls with an input, its band is in the
 * interval already; where it changes by no more than a slope, that bounds it; how far a band carries through anything
 * else, or how wide that of an estimate is, nobody knows.
 */
function bandOf(
  file: AskedFile,
  scope: ComputeScope,
): { readonly inputs: readonly string[]; readonly error: number | undefined } {
  const isStated = statedIn(file, scope);
  const banded: { readonly input: AskedInput; readonly error: number | undefined }[] = [];
  for (const input of file.inputs) {
    const fact = factOf(input, scope);
    const isExact = fact?.state.status !== 'present' || fact.error === 0;
    if (isExact || !isAskedFor(input, isStated)) continue;
    const isSpanned = isMonotoneIn(input, file, isStated) && fact.error !== undefined;
    if (!isSpanned) banded.push({ input, error: fact.error });
  }
  // A plan is exact, so there is nearly always none.
  if (banded.length === 0) return NO_BAND;
  const errors = banded.map(({ input: { slope, turnsWith }, error }) =>
    slope === undefined || error === undefined || (turnsWith?.some(isStated) ?? false) ? NaN : slope * error,
  );
  const error = errors.reduce((sum, one) => sum + one, 0);
  return {
    inputs: banded.flatMap(({ input }) => openNeeds(input, scope)),
    error: Number.isNaN(error) ? undefined : error,
  };
}

const NO_BAND = { inputs: [], error: 0 } as const;

/** Whether an input is known, and not known to be 0: a lip of 0 degrees is none. */
type IsStated = (input: string) => boolean;

function statedIn(file: AskedFile, { facts }: ComputeScope): IsStated {
  return (name) => {
    const input = file.inputs.find((one) => nameOf(one) === name);
    const known = input && quantityOf(facts.get(input.fact));
    return known !== undefined && !(known.low === 0 && known.high === 0);
  };
}

/** Whether an input matters here: what is asked for only beside another does not, where that other is not stated. */
function isAskedFor({ onlyWith }: AskedInput, isStated: IsStated): boolean {
  return onlyWith?.some(isStated) ?? true;
}

function isMonotoneIn({ monotone, turnsWith }: AskedInput, file: AskedFile, isStated: IsStated): boolean {
  return (monotone ?? file.monotone) && !(turnsWith?.some(isStated) ?? false);
}

function numberShown(shown: Shown): { shown?: number; motion?: string } {
  return {
    ...(shown.value !== undefined && { shown: shown.value }),
    ...(shown.motion !== undefined && { motion: shown.motion }),
  };
}

interface Shown {
  readonly value?: number;
  readonly motion?: string;
  readonly inputs: Readonly<Record<string, number>>;
  readonly assumptions: readonly string[];
}

/** The value a reader sees: exact inputs, replaced ones, and defaults that are said aloud. */
export function show(
  file: AskedFile,
  scope: ComputeScope,
  replaced: Readonly<Record<string, number>>,
): Shown {
  const inputs: Record<string, number> = {};
  const assumptions: string[] = [];
  const wear = wearOf(file, scope);
  if (wear === 'worn') return { inputs, assumptions };
  if (file.unworn && wear === 'not-measured') assumptions.push(file.unworn.says);
  const isStated: IsStated = (id) => (inputs[id] ?? 0) !== 0;
  for (const input of file.inputs) {
    if (!(input.onlyWith?.some(isStated) ?? true)) continue;
    const taken = numberToShow(input, scope, replaced[nameOf(input)]);
    if (!taken) return { inputs, assumptions: [] };
    if (taken.says !== undefined) assumptions.push(taken.says);
    if (taken.value !== undefined) inputs[nameOf(input)] = taken.value;
  }
  if (file.atLeastOneOf?.every((id) => inputs[id] === undefined)) return { inputs, assumptions: [] };
  const output = run(file, scope, inputs);
  return { ...output, inputs, assumptions: output ? sortedUnique(assumptions) : [] };
}

/** What a reader's number takes for one input, and what that assumes; undefined when it can't be had without it. */
function numberToShow(
  input: AskedInput,
  scope: ComputeScope,
  replaced: number | undefined,
): { readonly value?: number; readonly says?: string } | undefined {
  const fact = factOf(input, scope);
  const value = replaced ?? exactNumber(fact);
  if (value !== undefined) return { value };
  if (!isMissing(fact)) return undefined;
  const { whenMissing, optional } = input;
  if (optional) return optional.says === undefined ? {} : { says: optional.says };
  return (
    whenMissing && {
      value: numberOf(whenMissing.default.parameter, scope.rulebook.parameters),
      says: whenMissing.says,
    }
  );
}

/** A rim that may have worn away has no such number, and no default stands in for what was stated and can't be used. */
function wearOf({ unworn }: AskedFile, { facts }: ComputeScope): 'none' | 'not-measured' | 'worn' {
  const fact = unworn && facts.get(unworn.fact);
  if (!fact) return 'none';
  const measured = quantityOf(fact);
  if (measured) return measured.high > 0 ? 'worn' : 'none';
  return isMissing(fact) ? 'not-measured' : 'worn';
}

function nameOf(input: AskedInput): string {
  return input.as ?? input.fact;
}

/** The fact an input is taken from; one of another stage than asked for is not known, whatever it says. */
function factOf(input: AskedInput, scope: ComputeScope): Fact | undefined {
  const fact = scope.facts.get(input.fact);
  if (input.stage === undefined || fact?.state.status !== 'present' || fact.stage === input.stage)
    return fact;
  return unknownFact(input.fact, 'input-missing');
}

/** Only what was never stated may be replaced by a default; a refused, conflicting or unread value may not. */
function isMissing(fact: Fact | undefined): boolean {
  return (
    fact === undefined ||
    (fact.state.status === 'unknown' &&
      (fact.state.reason === 'not-recorded' || fact.state.reason === 'set-not-read'))
  );
}

/** Undefined where there is no such number for these inputs. */
export function run(
  file: AskedFile,
  scope: ComputeScope,
  values: Readonly<Record<string, number>>,
): { value: number; motion?: string } | undefined {
  const computation = scope.table[file.id];
  if (!computation) throw new TypeError(`no computation ${file.id}`);
  const { rulebook } = scope;
  const output = computation({
    values,
    motions: motionsOf(file, rulebook),
    parameters: numbersOf(file, rulebook),
  });
  return (
    output && {
      value: roundForUnit(output.value, file.unit),
      ...(output.motion !== undefined && { motion: output.motion }),
    }
  );
}

const NO_NUMBERS: Readonly<Record<string, number>> = {};

/** What a rulebook's parameters give a computation, once for each: numbers by the computation's own names for them. */
const numbersOfRulebook = new WeakMap<object, Map<object, Readonly<Record<string, number>>>>();

function numbersOf({ parameters }: AskedFile, rulebook: Rulebook): Readonly<Record<string, number>> {
  if (!parameters) return NO_NUMBERS;
  const kept =
    numbersOfRulebook.get(rulebook.parameters) ?? new Map<object, Readonly<Record<string, number>>>();
  const known = kept.get(parameters);
  if (known) return known;
  const numbers = Object.fromEntries(
    Object.entries(parameters).map(([name, reference]) => [
      name,
      numberOf(reference.parameter, rulebook.parameters),
    ]),
  );
  numbersOfRulebook.set(rulebook.parameters, kept.set(parameters, numbers));
  return numbers;
}

const NO_MOTIONS: readonly NamedPose[] = [];

/** Motion sets belong to the rulebook: each is marked as degrees once. */
const motionSets = new WeakMap<object, readonly NamedPose[]>();

function motionsOf(file: AskedFile, rulebook: Rulebook): readonly NamedPose[] {
  const value = file.motionSet && rulebook.parameters.get(file.motionSet.parameter)?.value;
  if (!Array.isArray(value)) return NO_MOTIONS;
  const known = motionSets.get(value);
  if (known) return known;
  const motions = value.flatMap((pose) => (typeof pose === 'number' ? [] : [namedPose(pose)]));
  motionSets.set(value, motions);
  return motions;
}

function namedPose(pose: {
  name: string;
  flexion: number;
  abduction: number;
  externalRotation: number;
}): NamedPose {
  const { name, flexion, abduction, externalRotation } = pose;
  return {
    name,
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

interface DecideState {
  readonly state: FactState;
  readonly narrowedBy: readonly string[];
}

/**
 * What the computation may decide with. A missing input that counts as model keeps its default; any other missing
 * input ranges over all that is plausible, so that an outcome never rests on a default alone.
 */
function decideState(file: AskedFile, scope: ComputeScope, shown: Shown): DecideState {
  if (file.unworn && wearOf(file, scope) === 'worn') {
    return unknownState(needsOfInput(scope.facts.get(file.unworn.fact), file.unworn.fact));
  }
  const untold = changesUntold(file, scope);
  if (untold) return unknownState(untold.flatMap((input) => openNeeds(input, scope)));
  const isStated = statedIn(file, scope);
  const spans: Record<string, Interval> = {};
  const loose: AskedInput[] = [];
  const needs: string[] = [];
  for (const input of file.inputs) {
    if (!isAskedFor(input, isStated)) continue;
    const isMonotone = isMonotoneIn(input, file, isStated);
    const span = decisionSpan(input, isMonotone, scope);
    if (span === 'left-out') continue;
    if (!span) {
      needs.push(...openNeeds(input, scope));
      continue;
    }
    spans[nameOf(input)] = span;
    if (span.low !== span.high) loose.push(input);
  }
  const open = loose.flatMap((input) => openNeeds(input, scope));
  if (needs.length > 0) return unknownState([...needs, ...open]);
  if (!loose.every((input) => isMonotoneIn(input, file, isStated))) return unknownState(open);
  const values = cornersOf(spans).map((corner) => valueAt(corner, file, scope, shown));
  // What ranges over all that is plausible is what keeps it open; only where nothing does, what was stated is to blame.
  if (values.some((value) => value === undefined))
    return unknownState(open.length > 0 ? open : peculiarNeeds(file, isStated, scope));
  return {
    state: {
      status: 'present',
      value: { kind: 'quantity', interval: spanOf(values.flatMap((value) => value ?? [])) },
    },
    narrowedBy: sortedUnique(open),
  };
}

/** The inputs of which it needs one, where none of them was ever stated. */
function changesUntold(
  { atLeastOneOf, inputs }: AskedFile,
  scope: ComputeScope,
): readonly AskedInput[] | undefined {
  if (!atLeastOneOf) return undefined;
  const wanted = inputs.filter((input) => atLeastOneOf.includes(nameOf(input)));
  return wanted.every((input) => isMissing(factOf(input, scope))) ? wanted : undefined;
}

/** Where what was stated has no such number, it is in what was stated beside the usual. */
function peculiarNeeds(file: AskedFile, isStated: IsStated, scope: ComputeScope): readonly string[] {
  const stated = file.inputs.filter((input) => isAskedFor(input, isStated) && isStated(nameOf(input)));
  const peculiar = stated.filter(({ optional }) => optional !== undefined);
  return (peculiar.length > 0 ? peculiar : stated).flatMap((input) => openNeeds(input, scope));
}

function openNeeds(input: AskedInput, scope: ComputeScope): readonly string[] {
  return needsOfInput(factOf(input, scope), input.fact);
}

/** What is decided with is nearly always what is shown: worked out once. */
function valueAt(
  corner: Readonly<Record<string, number>>,
  file: AskedFile,
  scope: ComputeScope,
  shown: Shown,
): number | undefined {
  const names = Object.keys(corner);
  const isShown =
    shown.value !== undefined &&
    names.length === Object.keys(shown.inputs).length &&
    names.every((name) => corner[name] === shown.inputs[name]);
  return isShown ? shown.value : run(file, scope, corner)?.value;
}

function unknownState(needs: readonly string[]): DecideState {
  return {
    state: { status: 'unknown', reason: 'input-missing', needs: sortedUnique(needs) },
    narrowedBy: [],
  };
}

function needsOfInput(fact: Fact | undefined, id: string): readonly string[] {
  if (fact?.state.status === 'unknown') return fact.state.needs;
  return fact?.narrowedBy ?? [id];
}

function decisionSpan(
  input: AskedInput,
  isMonotone: boolean,
  scope: ComputeScope,
): Interval | 'left-out' | undefined {
  const fact = factOf(input, scope);
  const known = quantityOf(fact);
  if (known) {
    const band = isMonotone ? (fact?.error ?? 0) : 0;
    return Number.isFinite(known.low) && Number.isFinite(known.high)
      ? { low: known.low - band, high: known.high + band }
      : undefined;
  }
  if (input.optional && isMissing(fact))
    return input.optional.decideOver === undefined ? 'left-out' : plausibleSpan(input, scope);
  const { whenMissing } = input;
  if (!whenMissing || !isMissing(fact)) return undefined;
  if (whenMissing.decideOver === 'default') {
    const value = numberOf(whenMissing.default.parameter, scope.rulebook.parameters);
    return { low: value, high: value };
  }
  return plausibleSpan(input, scope);
}

function plausibleSpan(input: AskedInput, scope: ComputeScope): Interval | undefined {
  const definition = scope.rulebook.factById.get(input.fact);
  if (definition?.kind !== 'measure' || !definition.plausible) return undefined;
  return { low: definition.plausible.low, high: definition.plausible.high };
}

function cornersOf(spans: Readonly<Record<string, Interval>>): readonly Readonly<Record<string, number>>[] {
  const lowest: Record<string, number> = {};
  let corners: readonly Readonly<Record<string, number>>[] = [lowest];
  for (const [fact, { low }] of Object.entries(spans)) lowest[fact] = low;
  for (const [fact, { low, high }] of Object.entries(spans))
    if (low !== high) corners = corners.flatMap((corner) => [corner, { ...corner, [fact]: high }]);
  return corners;
}
