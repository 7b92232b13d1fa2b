import { describe, expect, it } from 'vitest';
import type { Difference } from '../../../src/store/difference.js';
import { countDifferences, differencesText } from '../../../src/workbench/candidate/difference-counts.js';

const outcome: Difference = {
  decision: 'd1',
  at: '2026-11-24T10:00:00.000Z',
  candidateHash: 'sha256-a',
  kind: 'outcome',
  hip: 'left',
  construct: 'planned',
  rule: 'steep',
  was: 'does-not-fire',
  would: 'fires',
};

async function* given(...differences: readonly Difference[]): AsyncGenerator<Difference, void, undefined> {
  for (const difference of differences) yield await Promise.resolve(difference);
}

describe('what a candidate would have done otherwise', () => {
  it('is counted by rule and by what would change, the most frequent first, each candidate apart', async () => {
    const later = { ...outcome, decision: 'd2', at: '2026-11-26T10:00:00.000Z' };
    const { decision, at, candidateHash } = outcome;
    const counts = await countDifferences(
      given(
        { ...outcome, rule: 'flat' },
        later,
        outcome,
        { ...outcome, candidateHash: 'sha256-b' },
        { decision, at, candidateHash, kind: 'timeout' },
      ),
    );
    expect(counts.map(({ candidate, kind, rule, count }) => [candidate, kind, rule, count])).toEqual([
      ['sha256-a', 'outcome', 'steep', 2],
      ['sha256-a', 'timeout', '-', 1],
      ['sha256-a', 'outcome', 'flat', 1],
      ['sha256-b', 'outcome', 'steep', 1],
    ]);
    expect(counts[0]).toMatchObject({
      first: outcome.at,
      last: later.at,
      was: 'does-not-fire',
      would: 'fires',
    });
    expect(differencesText(counts)).toMatch(
      /2 {2}outcome +steep +does-not-fire → fires +2026-11-24 to 2026-11-26/,
    );
    expect(differencesText([])).toContain('No candidate differed');
  });
});
