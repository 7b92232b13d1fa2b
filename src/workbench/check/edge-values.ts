import type { FactDefinition } from '../../facts/definitions.js';
import type { Fact, FactState, FactValue } from '../../facts/fact.js';
import type { Condition, Rulebook } from '../../rulebook/types.js';

export type Leaf = Extract<Condition, { kind: 'leaf' }>;

/** What a fact may be, as far as the conditions that ask about it can tell. */
export type Edges = ReadonlyMap<string, readonly Fact[]>;

/**
 * For every fact the conditions ask about: each limit it is compared with, a value between neighbours and one beyond
 * either end; every code it may have, and all at once where it may have several; recorded and not. Numbers stay inside
 * what is plausible, because anything else is refused before a rule looks.
 */
export function edgesOf(conditions: readonly Condition[], rulebook: Rulebook): Edges {
  const byFact = new Map<string, Leaf[]>();
  for (const leaf of conditions.flatMap(leavesOf))
    byFact.set(leaf.fact, [...(byFact.get(leaf.fact) ?? []), leaf]);
  return new Map(
    [...byFact].map(([fact, leaves]) => [fact, edgesOfFact(fact, leaves, rulebook.factById.get(fact))]),
  );
}

export function leavesOf(condition: Condition): readonly Leaf[] {
  if (condition.kind === 'leaf') return [condition];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(leavesOf);
}

function edgesOfFact(
  id: string,
  leaves: readonly Leaf[],
  definition: FactDefinition | undefined,
): readonly Fact[] {
  if (leaves.some(({ operator }) => operator === 'recorded'))
    return [recordedFact(id), knownFact(id, { status: 'absent' })];
  const limits = leaves.flatMap(({ limit }) => (typeof limit.value === 'number' ? [limit.value] : []));
  if (limits.length > 0) {
    const exact = numbersAround(limits, definition).map((value) => exactFact(id, value));
    // What is only clearly beyond a limit differs from what is beyond it by the measuring band.
    const isBanded = leaves.some(({ operator }) => operator.startsWith('clearly-'));
    return isBanded ? [...exact, ...exact.map((fact) => ({ ...fact, error: BAND }))] : exact;
  }
  if (leaves.some(({ limit }) => typeof limit.value === 'boolean'))
    return [true, false].map((flag) => present(id, { kind: 'flag', flag }));
  return codeLists(leaves, definition).map((codes) => present(id, { kind: 'code', codes }));
}

/** As wide as the distance of the outermost edges from their limits, so that some of them lie within it. */
const BAND = 1;

function numbersAround(limits: readonly number[], definition: FactDefinition | undefined): readonly number[] {
  const sorted = [...new Set(limits)].sort((a, b) => a - b);
  const [first = 0, last = 0] = [sorted[0], sorted.at(-1)];
  const between = sorted.slice(1).map((limit, index) => (limit + (sorted[index] ?? limit)) / 2);
  const whole = isWhole(definition)
    ? between.flatMap((value) => [Math.floor(value), Math.ceil(value)])
    : between;
  const all = [...new Set([first - 1, ...sorted, ...whole, last + 1])].sort((a, b) => a - b);
  const { low, high } = plausibleOf(definition);
  return all.filter((value) => value >= low && value <= high);
}

function isWhole(definition: FactDefinition | undefined): boolean {
  return definition !== undefined && 'valueType' in definition && definition.valueType === 'integer';
}

export function plausibleOf(definition: FactDefinition | undefined): {
  readonly low: number;
  readonly high: number;
} {
  const plausible =
    definition?.kind === 'measure' || definition?.kind === 'observation' ? definition.plausible : undefined;
  return plausible ?? { low: -Infinity, high: Infinity };
}

function codeLists(
  leaves: readonly Leaf[],
  definition: FactDefinition | undefined,
): readonly (readonly string[])[] {
  const named = leaves.flatMap(({ limit }) =>
    Array.isArray(limit.value) ? (limit.value as readonly string[]) : [String(limit.value)],
  );
  const own = definition && 'values' in definition ? (definition.values ?? []) : [];
  const codes = [...new Set([...own, ...named])];
  const repeats = definition?.kind === 'measure' && definition.repeats;
  return [
    ...codes.map((code) => [code]),
    ...(repeats ? [codes] : []),
    ...(own.length > 0 ? [] : [['another-code']]),
  ];
}

function present(id: string, value: FactValue): Fact {
  return knownFact(id, { status: 'present', value });
}

export function recordedFact(id: string): Fact {
  return present(id, { kind: 'recorded', texts: [id] });
}

/** A number known exactly, without a measuring band. */
export function exactFact(id: string, value: number): Fact {
  return present(id, { kind: 'quantity', interval: { low: value, high: value } });
}

export function knownFact(id: string, state: FactState): Fact {
  return { id, state, error: 0, provenance: { from: [] }, remarks: [] };
}

export function unknownFact(id: string): Fact {
  return knownFact(id, { status: 'unknown', reason: 'not-recorded', needs: [id] });
}
