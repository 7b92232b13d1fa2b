import { describe, expect, it } from 'vitest';
import { newAdvisor } from '../../../src/advice/index.js';
import { asDecide, compileDecide } from '../../../src/engine/compiled-decide.js';
import { COMPUTATIONS } from '../../../src/engine/computations.js';
import { burdenLimits } from '../../../src/workbench/catalogue/burden-limits.js';
import { burdenSchema } from '../../../src/workbench/catalogue/burden-schema.js';
import type { BurdenRun } from '../../../src/workbench/catalogue/burden-schema.js';
import { measureFirst } from '../../../src/workbench/catalogue/measure-burden.js';
import { readShipped } from '../../../src/workbench/checked-file.js';
import { SHIPPED } from '../../../src/workbench/shipped-fixtures.js';
import { shipped } from '../../rulebook/shipped.js';

const burden = readShipped(SHIPPED.burden, burdenSchema);
const decide = asDecide(compileDecide(shipped.rules));
const advisor = newAdvisor(shipped, COMPUTATIONS, decide);

const broken = (run: BurdenRun): readonly string[] =>
  burdenLimits(run, shipped)
    .filter(({ holds }) => !holds)
    .map(({ says }) => says);

describe('what the rules cost attention', () => {
  it('is not stale: the first of the invented hips say again what was written down (`npm run catalogue`)', async () => {
    expect(await measureFirst({ advisor, engine: '0.1.0' })).toEqual(burden.first);
  }, 120_000);

  it('counts a thousand of each kind, every rule and every call', () => {
    const { whole } = burden;
    expect(whole.count).toBe(1000);
    for (const { hooks, rules } of [whole.recordLike, whole.fullyPlanned]) {
      expect(rules.map(({ rule }) => rule)).toEqual(shipped.rules.map(({ id }) => id));
      for (const { calls, callsByCards } of hooks) {
        expect(calls).toBe(1000);
        expect(callsByCards.reduce((sum, count) => sum + count, 0)).toBe(calls);
      }
    }
  });

  // Truth: the burden written down in the clinical decisions of the project, a proposal of ours.
  it('stays within its limits', () => {
    expect(broken(burden.whole)).toEqual([]);
  });

  it('is told to be too much as soon as it is: planted figures break each limit', () => {
    const { recordLike, fullyPlanned } = burden.whole;
    const figures = { calls: 100, callsByCards: [59, 0, 31, 10], callsWithWarning: 6, overCeiling: 0 };
    const noisy = (profile: typeof recordLike, mostUncritical: number): typeof recordLike => ({
      ...profile,
      hooks: profile.hooks.map(({ hook }) => ({ hook, ...figures, mostUncritical })),
    });
    const run = { count: 100, recordLike: noisy(recordLike, 3), fullyPlanned: noisy(fullyPlanned, 6) };
    expect(broken(run)).toEqual([
      'booking, record-like: at least 60 % without a card',
      'booking, record-like: 95th percentile at most 2',
      'booking, record-like: at most 5 % with a warning or worse',
      'appointment-book, fully planned: cards of rules in one answer, critical ones apart, at most 3',
      'order-select, fully planned: cards of rules in one answer, critical ones apart, at most 5',
      'order-sign, fully planned: cards of rules in one answer, critical ones apart, at most 5',
      'patient-view, fully planned: cards of rules in one answer, critical ones apart, at most 3',
    ]);
  });

  it('breaks no limit by a card more than half of all have', () => {
    const { recordLike, fullyPlanned } = burden.whole;
    const one = { calls: 3, callsByCards: [1, 2], callsWithWarning: 0, mostUncritical: 1, overCeiling: 0 };
    const hooks = recordLike.hooks.map(({ hook }) => ({ hook, ...one }));
    expect(broken({ count: 3, recordLike: { ...recordLike, hooks }, fullyPlanned })).toEqual([
      'booking, record-like: at least 60 % without a card',
      'booking, record-like: median at most 0',
    ]);
  });
});
