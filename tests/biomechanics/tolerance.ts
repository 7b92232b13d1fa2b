import { expect } from 'vitest';

/** Fails unless |actual - expected| <= tolerance; the message names both. */
export function expectWithin(actual: number, expected: number, tolerance: number): void {
  const difference = Math.abs(actual - expected);
  expect(difference, `got ${actual}, expected ${expected} within ${tolerance}`).toBeLessThanOrEqual(
    tolerance,
  );
}
