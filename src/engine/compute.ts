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
import type { ComputationTable } from './computations.js';

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
  readonly facts: ReadonlyMap<string, Fact>;
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
  const reads = file.inputs.map(({ fact }) => fact);
  try {
    const shown = show(file, scope, {});
    const state = decideState(file, scope);
    const banded = bandedInputs(file, scope);
    const narrowedBy = sortedUnique([...state.narrowedBy, ...banded]);
    const fact: Fact = {
      id,
      state: state.state,
      unit: file.unit,
      // Where the result only rises or falls with an input, its band is already in the interval; how far a band carries
      // through anything else, or how wide that of an estimate is, nobody knows.
      ...(banded.length === 0 && { error: 0 }),
      provenance: NO_PROVENANCE,
      remarks: [],
      ...(narrowedBy.length > 0 && { narrowedBy }),
    };
    return {
      id,
      unit: file.unit,
      fact,
      inputs: shown.inputs,
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

/** The inputs known only within a measuring band that is not in the interval already. */
function bandedInputs(file: AskedFile, scope: ComputeScope): readonly string[] {
  return file.inputs.flatMap((input) => {
    const fact = factOf(input, scope);
    const isExact = fact?.state.status !== 'present' || fact.error === 0;
    const isSpanned = file.monotone && fact?.error !== undefined;
    return isExact || isSpanned ? [] : needsOfInput(fact, input.fact);
  });
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
  if (isWorn(file, scope)) return { inputs, assumptions };
  for (const input of file.inputs) {
    const { whenMissing } = input;
    const fact = factOf(input, scope);
    const known = replaced[nameOf(input)] ?? exactNumber(fact);
    const fallback = known === undefined && isMissing(fact) && whenMissing ? whenMissing : undefined;
    const value = known ?? (fallback && numberOf(fallback.default.parameter, scope.rulebook.parameters));
    if (value === undefined) return { inputs, assumptions: [] };
    if (fallback) assumptions.push(fallback.says);
    inputs[nameOf(input)] = value;
  }
  const output = run(file, scope, inputs);
  return { ...output, inputs, assumptions: sortedUnique(assumptions) };
}

/** A rim that may have worn away has no such number, and no default stands in for it. */
function isWorn({ unworn }: AskedFile, { facts }: ComputeScope): boolean {
  const measured = unworn === undefined ? undefined : quantityOf(facts.get(unworn));
  return measured !== undefined && measured.high > 0;
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

export function run(
  file: AskedFile,
  scope: ComputeScope,
  values: Readonly<Record<string, number>>,
): { value: number; motion?: string } {
  const computation = scope.table[file.id];
  if (!computation) throw new TypeError(`no computation ${file.id}`);
  const output = computation({ values, motions: motionsOf(file, scope.rulebook) });
  return {
    value: roundForUnit(output.value, file.unit),
    ...(output.motion !== undefined && { motion: output.motion }),
  };
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
function decideState(file: AskedFile, scope: ComputeScope): DecideState {
  if (file.unworn !== undefined && isWorn(file, scope)) return unknownState([file.unworn]);
  const spans: Record<string, Interval> = {};
  const loose: string[] = [];
  const needs: string[] = [];
  for (const input of file.inputs) {
    const span = decisionSpan(input, file, scope);
    const open = needsOfInput(factOf(input, scope), input.fact);
    if (!span) {
      needs.push(...open);
      continue;
    }
    spans[nameOf(input)] = span;
    if (span.low !== span.high) loose.push(...open);
  }
  if (needs.length > 0) return unknownState([...needs, ...loose]);
  if (loose.length > 0 && !file.monotone) return unknownState(loose);
  const values = cornersOf(spans).map((corner) => run(file, scope, corner).value);
  return {
    state: { status: 'present', value: { kind: 'quantity', interval: spanOf(values) } },
    narrowedBy: sortedUnique(loose),
  };
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

function decisionSpan(input: AskedInput, file: AskedFile, scope: ComputeScope): Interval | undefined {
  const fact = factOf(input, scope);
  const known = quantityOf(fact);
  if (known) {
    const band = file.monotone ? (fact?.error ?? 0) : 0;
    return Number.isFinite(known.low) && Number.isFinite(known.high)
      ? { low: known.low - band, high: known.high + band }
      : undefined;
  }
  const { whenMissing } = input;
  if (!whenMissing || !isMissing(fact)) return undefined;
  if (whenMissing.decideOver === 'default') {
    const value = numberOf(whenMissing.default.parameter, scope.rulebook.parameters);
    return { low: value, high: value };
  }
  const definition = scope.rulebook.factById.get(input.fact);
  if (definition?.kind !== 'measure' || !definition.plausible) return undefined;
  return { low: definition.plausible.low, high: definition.plausible.high };
}

function cornersOf(spans: Readonly<Record<string, Interval>>): readonly Readonly<Record<string, number>>[] {
  let corners: readonly Readonly<Record<string, number>>[] = [{}];
  for (const [fact, { low, high }] of Object.entries(spans)) {
    const ends = low === high ? [low] : [low, high];
    corners = corners.flatMap((corner) => ends.map((end) => ({ ...corner, [fact]: end })));
  }
  return corners;
}
