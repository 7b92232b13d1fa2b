import { describe, expect, it } from 'vitest';
import { groupCommit } from '../../src/store/group-commit.js';

interface Commits {
  readonly groups: (readonly number[])[];
  readonly commit: (items: readonly number[]) => Promise<ReadonlyMap<number, unknown>>;
}

/** Remembers the groups it was given; items of the set fail one by one, a negative item fails its whole group. */
function commits(failing: ReadonlySet<number> = new Set()): Commits {
  const groups: (readonly number[])[] = [];
  return {
    groups,
    commit: async (items) => {
      groups.push(items);
      await Promise.resolve();
      if (items.some((item) => item < 0)) throw new Error('disk full');
      return new Map(
        items.filter((item) => failing.has(item)).map((item) => [item, new Error(`no ${item}`)]),
      );
    },
  };
}

function upTo(count: number, from = 0): readonly number[] {
  return Array.from({ length: count }, (_, index) => from + index);
}

describe('group commit', () => {
  // Dependencies: group commits of at most 20 records, waiting at most 5 ms, acknowledged after the commit.
  it('commits together what comes together, in order, twenty at most', async () => {
    const { groups, commit } = commits();
    const { add } = groupCommit(commit);
    await Promise.all(upTo(47).map(add));
    expect(groups).toEqual([upTo(20), upTo(20, 20), upTo(7, 40)]);
  });

  it('waits some milliseconds for company, and not for a full group', async () => {
    const { groups, commit } = commits();
    const { add } = groupCommit(commit);
    const started = performance.now();
    const first = add(1);
    await new Promise(setImmediate);
    expect(groups).toEqual([]);
    await Promise.all([first, add(2)]);
    expect(groups).toEqual([[1, 2]]);
    // 5 ms by the setting; what a busy machine adds is not ours.
    expect(performance.now() - started).toBeLessThan(500);
  });

  it('does not resolve before the commit has', async () => {
    let release: (() => void) | undefined;
    const order: string[] = [];
    const { add } = groupCommit<number>(async () => {
      await new Promise<void>((resolve) => {
        release = resolve;
      });
      order.push('committed');
      return new Map();
    });
    const told = add(1).then(() => order.push('told'));
    while (!release) await new Promise(setImmediate);
    await new Promise(setImmediate);
    expect(order).toEqual([]);
    release();
    await told;
    expect(order).toEqual(['committed', 'told']);
  });

  it('rejects an item that failed with its own reason, and resolves the others', async () => {
    const { commit } = commits(new Set([2]));
    const { add } = groupCommit(commit);
    const results = await Promise.allSettled([1, 2, 3].map(add));
    expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
    expect(results[1]).toMatchObject({ reason: new Error('no 2') });
  });

  it('rejects the whole group when its commit fails, and goes on with the next', async () => {
    const { groups, commit } = commits();
    const { add } = groupCommit(commit, { longestMs: 5, most: 3 });
    const results = await Promise.allSettled([1, -2, 3, 4, 5].map(add));
    expect(results.map(({ status }) => status)).toEqual([
      'rejected',
      'rejected',
      'rejected',
      'fulfilled',
      'fulfilled',
    ]);
    await add(6);
    expect(groups).toEqual([[1, -2, 3], [4, 5], [6]]);
  });

  it('still commits what comes after a pause, whether the last group was full, early or late', async () => {
    const { groups, commit } = commits();
    const { add } = groupCommit(commit, { longestMs: 2, most: 3 });
    const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));
    for (const count of [3, 1, 4, 2, 3, 3, 1]) {
      await Promise.all(upTo(count).map(add));
      await pause(count);
    }
    // Added while another group is being committed, by whoever was told first.
    await Promise.all(upTo(3).map((item) => add(item).then(() => Promise.all(upTo(3).map(add)))));
    expect(groups.flat()).toHaveLength(17 + 3 + 9);
    expect(Math.max(...groups.map(({ length }) => length))).toBe(3);
  });

  it('settles what waits when closed, and refuses what comes later', async () => {
    const { groups, commit } = commits();
    const { add, close } = groupCommit(commit, { longestMs: 60_000, most: 20 });
    const waiting = upTo(30).map(add);
    await close();
    await Promise.all(waiting);
    expect(groups.flat()).toEqual(upTo(30));
    await expect(add(31)).rejects.toThrow(/closed/);
    await expect(close()).resolves.toBeUndefined();
  });
});
