import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { LatencyBins } from '../../../src/workbench/readiness/latency-bins.js';

describe('durations in bins', () => {
  // Truth: the same percentile of the sorted list.
  it('give every percentile within two percent, and never too low', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.01, max: 60_000, noNaN: true }), { minLength: 1, maxLength: 300 }),
        fc.constantFrom(0.5, 0.95, 0.99, 1),
        (durations, share) => {
          const bins = new LatencyBins();
          for (const duration of durations) bins.add(duration);
          const sorted = [...durations].sort((a, b) => a - b);
          const exact = sorted[Math.ceil(share * sorted.length) - 1] ?? Number.NaN;
          expect(bins.at(share)).toBeGreaterThanOrEqual(exact * (1 - 1e-9));
          expect(bins.at(share)).toBeLessThanOrEqual(exact * 1.0201);
          expect(bins.longest).toBe(Math.max(...durations));
        },
      ),
    );
  });

  it('without any durations say nothing took time', () => {
    expect(new LatencyBins().at(0.99)).toBe(0);
  });
});
