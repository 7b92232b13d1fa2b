import { describe, expect, it } from 'vitest';
import {
  alikePairs,
  alikeSchema,
  unreviewedPairs,
  withReasons,
} from '../../../src/workbench/catalogue/alike.js';
import { burdenSchema } from '../../../src/workbench/catalogue/burden-schema.js';
import { readShipped } from '../../../src/workbench/checked-file.js';
import { SHIPPED } from '../../../src/workbench/shipped-fixtures.js';

const { alike } = readShipped(SHIPPED.burden, burdenSchema);
const { pairs: reviewed } = readShipped(SHIPPED.alike, alikeSchema);

/** Hips on which the rules a, b and c fire, by how often. */
function hips(...counts: readonly (readonly [readonly string[], number])[]): readonly ReadonlySet<string>[] {
  return counts.flatMap(([rules, count]) => Array.from({ length: count }, () => new Set(rules)));
}

describe('rules that fire alike', () => {
  // Truth: closed form. 20 of 21 is 95.2 %, 19 of 20 exactly 95 %.
  it('are those that both fire on more than 95 % of the hips on which one does', () => {
    expect(alikePairs(hips([['a', 'b'], 20], [['a'], 1], [[], 79]))).toEqual([
      { rules: ['a', 'b'], both: 20, either: 21, agree: 99 },
    ]);
    expect(alikePairs(hips([['a', 'b'], 19], [['a'], 1], [[], 80]))).toEqual([]);
  });

  it('are not two rare rules that never meet, though they agree on nearly every hip', () => {
    expect(alikePairs(hips([['a'], 1], [['b'], 1], [[], 998]))).toEqual([]);
  });

  it('come in the order of their names, and the most alike first once they have reasons', () => {
    const pairs = alikePairs(hips([['c', 'b', 'a'], 30], [['c'], 1]));
    expect(pairs.map(({ rules }) => rules.join())).toEqual(['a,b', 'a,c', 'b,c']);
    const told = withReasons(pairs, []);
    expect(told.map(({ rules }) => rules.join())).toEqual(['a,b', 'a,c', 'b,c']);
    expect(told[0]?.reason).toBeUndefined();
  });

  it('all have a reviewed reason, and each reason has its pair', () => {
    expect(unreviewedPairs(alike, reviewed)).toEqual({ withoutReason: [], withoutPair: [] });
  });

  it('are missed by nobody: a pair without a reason and a reason without a pair are both named', () => {
    const pair = { rules: ['a', 'b'] as [string, string], both: 20, either: 20, agree: 1000 };
    const reason = { reason: 'only for a test, not of any rule', date: '2026-11-26', reviewer: 'tester' };
    expect(unreviewedPairs([pair], [])).toEqual({ withoutReason: ['a and b'], withoutPair: [] });
    expect(unreviewedPairs([], [{ rules: ['b', 'a'], ...reason }])).toEqual({
      withoutReason: [],
      withoutPair: ['a and b'],
    });
    expect(unreviewedPairs([pair], [{ rules: ['b', 'a'], ...reason }])).toEqual({
      withoutReason: [],
      withoutPair: [],
    });
    expect(withReasons([pair], [{ rules: ['a', 'b'], ...reason }])[0]?.reason).toBe(reason.reason);
  });
});
