import { describe, expect, it } from 'vitest';
import { COMPUTATIONS } from '../../../src/engine/computations.js';
import type { Fact } from '../../../src/facts/fact.js';
import type { HipRecord } from '../../../src/facts/patient-record.js';
import { completing } from '../../../src/workbench/check/check-opposing.js';
import { edgesFor } from '../../../src/workbench/check/check-reach.js';
import { pairedHips } from '../../../src/workbench/check/paired-hips.js';
import { shipped } from '../../rulebook/shipped.js';

const paired = pairedHips(shipped, completing(shipped, COMPUTATIONS), 5);

/** What a rule can tell apart of a fact. */
function seen({ state, error }: Fact): string {
  return JSON.stringify([state, error]);
}

describe('hips in which edge values meet pair by pair', () => {
  const edges = edgesFor(shipped.rules, shipped);
  const read = shipped.facts
    .filter(({ id, kind }) => kind !== 'derived' && edges.has(id))
    .map(({ id }) => id);
  const isNumber = ({ state }: Fact): boolean =>
    state.status === 'present' && state.value.kind === 'quantity';
  const limits = new Map(read.map((id) => [id, (edges.get(id) ?? []).filter(isNumber).map(seen)] as const));

  /** What each hip of a list has of each fact. */
  function columnsOf(hips: readonly HipRecord[]): ReadonlyMap<string, readonly string[]> {
    return new Map(
      read.map((id) => [
        id,
        hips.map(({ facts }) => {
          const fact = facts.get(id);
          return fact ? seen(fact) : '';
        }),
      ]),
    );
  }

  function missing(
    columns: ReadonlyMap<string, readonly string[]>,
    one: string,
    other: string,
  ): readonly string[] {
    const [left, right] = [columns.get(one) ?? [], columns.get(other) ?? []];
    const met = new Set(left.map((value, hip) => `${value} ${right[hip] ?? ''}`));
    return (limits.get(one) ?? [])
      .flatMap((a) => (limits.get(other) ?? []).map((b) => `${a} ${b}`))
      .filter((pair) => !met.has(pair));
  }

  it.each(['amid', 'apart'] as const)('every two limits are met together (%s)', (list) => {
    expect(read.length).toBeGreaterThan(50);
    const columns = columnsOf(paired[list]);
    const numbers = read.filter((id) => (limits.get(id) ?? []).length > 0);
    const lost = numbers.flatMap((one, index) =>
      numbers.slice(index + 1).flatMap((other) => missing(columns, one, other)),
    );
    expect(lost).toEqual([]);
  });

  it('the second list has one diagnosis at most', () => {
    const most = Math.max(
      ...paired.apart.map(
        ({ facts }) =>
          [...facts.values()].filter(
            ({ id, state }) => state.status === 'present' && shipped.factById.get(id)?.kind === 'condition',
          ).length,
      ),
    );
    expect(most).toBe(1);
  });

  it('a sum of two angles is met on either side of its limits, though no record states it', () => {
    const complete = completing(shipped, COMPUTATIONS);
    const sums = paired.amid.flatMap((hip) => {
      const state = complete(hip).get('combined-anteversion')?.state;
      return state?.status === 'present' && state.value.kind === 'quantity' ? [state.value.interval.low] : [];
    });
    for (const limit of [20, 25, 40, 60])
      expect(sums.filter((sum) => Math.abs(sum - limit) <= 3).length).toBeGreaterThan(0);
  });
});
