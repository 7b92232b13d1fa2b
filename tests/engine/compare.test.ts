import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compareFact } from '../../src/engine/compare.js';
import type { Operator } from '../../src/rulebook/types.js';
import { absent, code, flag, number, recorded, unknown } from './facts.js';

type Span = readonly [number, number];

const holds: Readonly<Record<string, (value: number, limit: number) => boolean>> = {
  above: (value, limit) => value > limit,
  below: (value, limit) => value < limit,
  'at-least': (value, limit) => value >= limit,
  'at-most': (value, limit) => value <= limit,
};

describe('a comparison', () => {
  it.each<[Operator, number, string]>([
    ['above', 58, 'false'],
    ['above', 58.000001, 'true'],
    ['at-least', 58, 'true'],
    ['at-least', 57.999999, 'false'],
    ['below', 58, 'false'],
    ['below', 57.999999, 'true'],
    ['at-most', 58, 'true'],
    ['at-most', 58.000001, 'false'],
  ])('%s 58 with %d is %s, edges inside', (operator, value, expected) => {
    // Truth: closed form; clinical decisions §3, edges inside.
    expect(compareFact(number('a', value), operator, 58)).toEqual({ truth: expected, found: value });
  });

  it('of an interval is known only when every value in it gives the same answer', () => {
    // Truth: closed form, by trying values inside; the project's design: the whole interval lies on one side.
    fc.assert(
      fc.property(
        fc.constantFrom('above', 'below', 'at-least', 'at-most'),
        fc.tuple(fc.integer({ min: 0, max: 20 }), fc.integer({ min: 0, max: 20 })),
        fc.integer({ min: 0, max: 20 }),
        (operator, [a, b], limit) => {
          const [low, high] = [Math.min(a, b), Math.max(a, b)];
          const inside = Array.from({ length: 2 * (high - low) + 1 }, (_, step) => low + step / 2);
          const answers = new Set(inside.map((value) => holds[operator]?.(value, limit)));
          const { truth } = compareFact(number('a', [low, high]), operator, limit);
          expect(truth).toBe(answers.size > 1 ? 'unknown' : answers.has(true) ? 'true' : 'false');
        },
      ),
      { numRuns: 2000, seed: 3 },
    );
  });

  it.each<[Operator, Span, string]>([
    ['above', [60, Infinity], 'true'],
    ['above', [50, Infinity], 'unknown'],
    ['above', [-Infinity, 58], 'false'],
    ['below', [-Infinity, 57], 'true'],
    ['below', [58, Infinity], 'false'],
    ['at-most', [-Infinity, 59], 'unknown'],
  ])('%s 58 with the open interval %j is %s', (operator, span, expected) => {
    // Truth: closed form.
    expect(compareFact(number('a', span), operator, 58).truth).toBe(expected);
  });

  it('that spans its limit says so, shows the bounds, and needs the fact or what would narrow it', () => {
    // Truth: the project's design: a computed leaf contributes the unknown inputs of its computation.
    expect(compareFact(number('a', [50, 60]), 'above', 58)).toEqual({
      truth: 'unknown',
      found: { low: 50, high: 60 },
      reason: 'spans-limit',
      needs: ['a'],
    });
    expect(compareFact(number('a', [50, Infinity]), 'above', 58).found).toEqual({ low: 50 });
    expect(compareFact(number('a', [50, 60], { narrowedBy: ['b', 'c'] }), 'above', 58).needs).toEqual([
      'b',
      'c',
    ]);
  });
});

// Truth: clinical decisions §3: measured cups by more than the measuring error; inside the band no card; an estimate never.
describe('a comparison that allows for the measuring error', () => {
  it.each<[Operator, number, number, string]>([
    ['clearly-above', 60, 2, 'false'],
    ['clearly-above', 60.000001, 2, 'true'],
    ['clearly-above', 57, 2, 'false'],
    ['clearly-below', 28, 2, 'false'],
    ['clearly-below', 27.999999, 2, 'true'],
    ['clearly-above', 58.000001, 0, 'true'],
    ['clearly-above', 58, 0, 'false'],
  ])('%s the limit with %d and an error of %d is %s', (operator, value, error, expected) => {
    const limit = operator === 'clearly-above' ? 58 : 30;
    expect(compareFact(number('a', value, { error }), operator, limit)).toMatchObject({
      truth: expected,
      found: value,
    });
  });

  it('tells the width of the band it used, and none for a plan', () => {
    expect(compareFact(number('a', 70, { error: 2 }), 'clearly-above', 58).error).toBe(2);
    expect(compareFact(number('a', 70, { error: 0 }), 'clearly-above', 58)).not.toHaveProperty('error');
    expect(compareFact(number('a', 70, { error: 2 }), 'above', 58)).not.toHaveProperty('error');
  });

  it('of an interval needs all of it beyond the band', () => {
    expect(compareFact(number('a', [61, 70], { error: 2 }), 'clearly-above', 58).truth).toBe('true');
    expect(compareFact(number('a', [59, 70], { error: 2 }), 'clearly-above', 58).truth).toBe('unknown');
    expect(compareFact(number('a', [10, 60], { error: 2 }), 'clearly-above', 58).truth).toBe('false');
  });

  it('cannot tell without a known band, and needs a better measurement of the same', () => {
    expect(compareFact(number('a', 89), 'clearly-above', 58)).toEqual({
      truth: 'unknown',
      found: 89,
      reason: 'spans-limit',
      needs: ['a'],
    });
    expect(compareFact(number('a', 89), 'above', 58).truth).toBe('true');
  });
});

describe('a comparison of what is no number', () => {
  it('asks whether a code is among those named', () => {
    // Truth: closed form.
    expect(compareFact(code('a', 'x', 'y'), 'equal', 'y').truth).toBe('true');
    expect(compareFact(code('a', 'x'), 'equal', 'y').truth).toBe('false');
    expect(compareFact(code('a', 'x'), 'one-of', ['y', 'x']).truth).toBe('true');
    expect(compareFact(code('a', 'x'), 'one-of', ['y']).truth).toBe('false');
    expect(compareFact(flag('a', true), 'equal', true).truth).toBe('true');
    expect(compareFact(flag('a', false), 'equal', true).truth).toBe('false');
  });

  it('asks whether anything is recorded: present, absent, or unknown and why', () => {
    // Truth: closed form.
    expect(compareFact(recorded('a', 'seen'), 'recorded', true)).toEqual({ truth: 'true', found: ['seen'] });
    expect(compareFact(absent('a'), 'recorded', true)).toEqual({ truth: 'false' });
    expect(compareFact(unknown('a', 'set-not-read'), 'recorded', true)).toEqual({
      truth: 'unknown',
      reason: 'set-not-read',
      needs: ['a'],
    });
  });

  it('throws when operator and fact do not fit, which the rulebook check rules out', () => {
    // Truth: style of the project, §9: our mistake is thrown.
    expect(() => compareFact(recorded('a'), 'above', 3)).toThrow(TypeError);
    expect(() => compareFact(code('a', 'x'), 'above', 3)).toThrow(TypeError);
    expect(() => compareFact(number('a', 3), 'equal', 'x')).toThrow(TypeError);
    expect(() => compareFact(number('a', 3), 'above', 'x')).toThrow(TypeError);
    expect(() => compareFact(number('a', 3), 'above', NaN)).toThrow(TypeError);
    expect(() => compareFact(absent('a'), 'above', 3)).toThrow(TypeError);
    expect(() => compareFact(recorded('a'), 'recorded', false)).toThrow(TypeError);
  });

  it('is unknown for every reason and every operator when the fact is', () => {
    // Truth: closed form.
    for (const operator of ['above', 'clearly-below', 'equal', 'one-of', 'recorded'] as const) {
      expect(compareFact(unknown('a', 'conflicting', ['b']), operator, 5)).toEqual({
        truth: 'unknown',
        reason: 'conflicting',
        needs: ['b'],
      });
    }
  });
});
