import { compareFact } from '../../engine/compare.js';
import type { FactDefinition } from '../../facts/definitions.js';
import type { Fact } from '../../facts/fact.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { Edges, Leaf } from './edge-values.js';
import { exactFact, leavesOf, plausibleOf } from './edge-values.js';
import { conditionsOf } from '../../rulebook/condition-facts.js';
import type { Complete } from './sampled-hips.js';
import { plainHip } from './sampled-hips.js';

interface Crossing {
  readonly complete: Complete;
  readonly edges: Edges;
  readonly next: () => number;
}

/** Hips about which each number is moved: what is worked out from it depends on the others. */
const HIPS = 4;

/**
 * Where something worked out from a number crosses a limit: a sum of two angles has edges of its own, and so has, for
 * each value of the one, the other. Both neighbours of each crossing are told, on whole numbers.
 */
export function crossingValues(
  rulebook: Rulebook,
  { complete, edges, next }: Crossing,
): ReadonlyMap<string, readonly number[]> {
  const leaves = rulebook.rules
    .flatMap(conditionsOf)
    .flatMap(leavesOf)
    .filter(({ fact }) => (rulebook.factById.get(fact)?.kind ?? 'derived') === 'derived');
  const numbers = rulebook.facts.filter(isNumber);
  const found = new Map<string, Set<number>>();
  for (let hip = 0; hip < HIPS; hip++) {
    const record = plainHip(rulebook, edges, next);
    for (const definition of numbers) {
      const { id } = definition;
      const truths = (value: number): string => {
        const facts = new Map([...record.facts, [id, { ...record.facts.get(id), ...exactFact(id, value) }]]);
        return truthsOf(leaves, complete({ ...record, facts }));
      };
      const { low, high } = plausibleOf(definition);
      const values = found.get(id) ?? new Set();
      for (const value of crossed(Math.ceil(low), Math.floor(high), truths)) values.add(value);
      found.set(id, values);
    }
  }
  return new Map([...found].map(([id, values]) => [id, [...values].sort((a, b) => a - b)]));
}

function isNumber(definition: FactDefinition): boolean {
  const { low, high } = plausibleOf(definition);
  return definition.kind === 'measure' && Number.isFinite(low) && Number.isFinite(high);
}

function truthsOf(leaves: readonly Leaf[], facts: ReadonlyMap<string, Fact>): string {
  return leaves
    .map(({ fact, operator, limit }) => {
      const found = facts.get(fact);
      return found ? (compareFact(found, operator, limit.value).truth[0] ?? '') : '-';
    })
    .join('');
}

/** Parts of a range that are looked at by their ends alone. */
const PARTS = 6;

/** Both neighbours of every place where the truths change, as far as the ends of a part differ. */
function crossed(low: number, high: number, truths: (value: number) => string): readonly number[] {
  const step = Math.max(1, Math.ceil((high - low) / PARTS));
  const ends = [...new Set([...Array.from({ length: PARTS }, (_, part) => low + part * step), high])].filter(
    (value) => value >= low && value <= high,
  );
  const between = (from: number, to: number, atFrom: string, atTo: string): readonly number[] => {
    if (atFrom === atTo) return [];
    if (to - from <= 1) return [from, to];
    const middle = Math.floor((from + to) / 2);
    const atMiddle = truths(middle);
    return [...between(from, middle, atFrom, atMiddle), ...between(middle, to, atMiddle, atTo)];
  };
  const known = ends.map((value) => [value, truths(value)] as const);
  return known.slice(1).flatMap(([to, atTo], index) => {
    const [from, atFrom] = known[index] ?? [to, atTo];
    return between(from, to, atFrom, atTo);
  });
}
