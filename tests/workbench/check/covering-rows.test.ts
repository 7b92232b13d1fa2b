import { describe, expect, it } from 'vitest';
import { coveringRows, pairCount } from '../../../src/workbench/check/covering-rows.js';
import { seededNumbers } from '../../../src/workbench/check/seeded.js';

/** Every pair of values the rows hold, counted one by one. */
function pairsIn(rows: readonly (readonly number[])[]): number {
  const met = new Set<string>();
  for (const row of rows)
    for (const [a, one] of row.entries())
      for (const [b, other] of row.entries()) if (a < b) met.add(`${a}=${one} ${b}=${other}`);
  return met.size;
}

// Truth: closed-form; pairs are counted, and no fewer rows than the two largest factors multiplied can hold them.
describe('rows that cover pairs', () => {
  it.each([
    [[2, 2]],
    [[3, 3, 3, 3]],
    [[1, 4, 1]],
    [[15, 12, 2, 2, 2, 7]],
    [[...Array<number>(40).fill(2), ...Array<number>(12).fill(6)]],
  ])('hold every pair of %j', (sizes) => {
    const rows = coveringRows(sizes, seededNumbers(3));
    let all = 0;
    for (const [a, one] of sizes.entries())
      for (const [b, other] of sizes.entries()) if (a < b) all += one * other;
    expect(pairCount(sizes)).toBe(all);
    expect(pairsIn(rows)).toBe(all);
    const [first = 0, second = 0] = [...sizes].sort((a, b) => b - a);
    expect(rows.length).toBeGreaterThanOrEqual(first * second);
    expect(rows.length).toBeLessThan(first * second * 3 + 10);
    for (const row of rows)
      expect(row.every((value, factor) => value >= 0 && value < (sizes[factor] ?? 0))).toBe(true);
  });

  it('are the same for the same seed, and others for another', () => {
    const sizes = [5, 4, 3, 3, 2];
    expect(coveringRows(sizes, seededNumbers(1))).toEqual(coveringRows(sizes, seededNumbers(1)));
    expect(coveringRows(sizes, seededNumbers(1))).not.toEqual(coveringRows(sizes, seededNumbers(2)));
  });

  it('are none where there is no pair', () => {
    expect(coveringRows([], seededNumbers(1))).toEqual([]);
    expect(coveringRows([4], seededNumbers(1))).toEqual([]);
  });
});
