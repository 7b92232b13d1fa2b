import { describe, expect, it } from 'vitest';
import { Draws } from '../../../src/workbench/synthesize/draws.js';
import { correlation, mean, sd } from './intervals.js';

const COUNT = 40_000;
const NAMES = ['spine.tilt', 'spine.slope', 'a', 'b'];

/** Chance moves a correlation of n pairs by about 1 / sqrt(n); five times that is never seen. */
const FREE = 5 / Math.sqrt(COUNT);

const patients = (seed: number) => Array.from({ length: COUNT }, (_, index) => new Draws(seed, index));

// Truth throughout: closed form, the moments of the uniform, normal and Poisson laws.
describe('draws', () => {
  it('are the same for the same seed, patient, name and turn, whatever was drawn before', () => {
    const first = new Draws(7, 12);
    const value = first.uniform('age', 3);
    const second = new Draws(7, 12);
    for (let turn = 0; turn < 10; turn += 1) second.normal('height', turn);
    expect(second.uniform('age', 3)).toBe(value);
  });

  it('differ when seed, patient, name or turn differs, also beyond 32 bits', () => {
    const big = 2 ** 32;
    const values = [
      new Draws(7, 12).uniform('age', 3),
      new Draws(8, 12).uniform('age', 3),
      new Draws(7 + big, 12).uniform('age', 3),
      new Draws(7, 13).uniform('age', 3),
      new Draws(7, 12 + big).uniform('age', 3),
      new Draws(12, 7).uniform('age', 3),
      new Draws(7, 12).uniform('agf', 3),
      new Draws(7, 12).uniform('age', 4),
    ];
    expect(new Set(values).size).toBe(values.length);
  });

  it('fill (0, 1) evenly over patients, for every name', () => {
    for (const name of NAMES) {
      const bins = new Array<number>(64).fill(0);
      const values = patients(1).map((draws) => draws.uniform(name));
      expect(values.filter((value) => value <= 0 || value >= 1)).toEqual([]);
      for (const value of values) {
        const bin = Math.floor(value * bins.length);
        bins[bin] = (bins[bin] ?? 0) + 1;
      }
      const expected = COUNT / bins.length;
      const chiSquare = bins.reduce((sum, seen) => sum + (seen - expected) ** 2 / expected, 0);
      // 63 degrees of freedom: below 34 or above 104 in one case of a thousand.
      expect(chiSquare).toBeGreaterThan(30);
      expect(chiSquare).toBeLessThan(110);
    }
  });

  it('do not go together between names, turns, neighbors or seeds', () => {
    const values = (seed: number, name: string, turn = 0) =>
      patients(seed).map((draws) => draws.uniform(name, turn));
    const own = values(1, 'a');
    const shifted = [...own.slice(1), own[0] ?? NaN];
    const others = [values(1, 'b'), values(1, 'a', 1), values(2, 'a'), shifted];
    for (const other of others) expect(Math.abs(correlation(own, other))).toBeLessThan(FREE);
  });

  it('never repeat a patient among a million', () => {
    const seen = new Set<number>();
    for (let index = 0; index < 1_000_000; index += 1) seen.add(new Draws(3, index).uniform('a'));
    expect(seen.size).toBe(1_000_000);
  });

  it('are standard normal where a normal number is asked for', () => {
    const values = patients(4).map((draws) => draws.normal('tilt'));
    expect(Math.abs(mean(values))).toBeLessThan(FREE);
    expect(sd(values)).toBeCloseTo(1, 1);
    const beyond = values.filter((value) => Math.abs(value) > 1.96).length / COUNT;
    expect(Math.abs(beyond - 0.05)).toBeLessThan(0.006);
    const fourth = mean(values.map((value) => value ** 4));
    expect(Math.abs(fourth - 3)).toBeLessThan(0.2);
  });

  it('count events with the mean and the spread of a Poisson law', () => {
    const values = patients(5).map((draws) => draws.count('noise', 2.5));
    expect(Math.abs(mean(values) - 2.5)).toBeLessThan(0.04);
    expect(Math.abs(sd(values) ** 2 - 2.5)).toBeLessThan(0.1);
  });

  it('choose by the shares given and pick each item of a list alike', () => {
    const chosen = patients(6).map((draws) => draws.choice('head', { '28': 0.2, '32': 0.5, '36': 0.3 }));
    const share = (name: string) => chosen.filter((one) => one === name).length / COUNT;
    expect(Math.abs(share('28') - 0.2)).toBeLessThan(0.012);
    expect(Math.abs(share('32') - 0.5)).toBeLessThan(0.015);
    const picked = patients(6).map((draws) => draws.pick('code', ['x', 'y', 'z']));
    for (const item of ['x', 'y', 'z'])
      expect(Math.abs(picked.filter((one) => one === item).length / COUNT - 1 / 3)).toBeLessThan(0.015);
  });
});
