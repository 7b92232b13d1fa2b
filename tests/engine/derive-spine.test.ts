import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compareFact } from '../../src/engine/compare.js';
import { deriveFacts } from '../../src/engine/derive.js';
import type { Fact } from '../../src/facts/fact.js';
import { intervalOf } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { factMap, number, unknown } from './facts.js';

function derived(id: string, facts: readonly Fact[]): Fact {
  const found = deriveFacts(factMap(...facts), 'planned', shipped.knowledge).get(id);
  if (!found) throw new Error(`no ${id}`);
  return found;
}

type Value = number | readonly [number, number];
const pair = (angle: string, standing: Value, seated: Value): readonly Fact[] => [
  number(`${angle}-standing`, standing),
  number(`${angle}-relaxed-seated`, seated),
];

describe('lumbar flexion', () => {
  const id = 'lumbar-flexion';

  it('is the lordosis given up from standing to flexed-seated', () => {
    // Truth: clinical decisions §10, the fixed posterior pelvis: 30 standing, 18 flexed-seated.
    const facts = [
      number('lumbar-lordosis-standing', 30, { provenance: { from: ['Observation/a'], date: '2026-02-01' } }),
      number('lumbar-lordosis-flexed-seated', 18, {
        provenance: { from: ['Observation/b'], date: '2026-01-01' },
      }),
    ];
    const fact = derived(id, facts);
    expect(intervalOf(fact)).toEqual([12, 12]);
    // As old as the oldest of its parts.
    expect(fact.provenance).toEqual({ from: ['Observation/a', 'Observation/b'], date: '2026-01-01' });
  });

  it('without one of its parts, or with an open one, is unknown and needs it', () => {
    const standing = number('lumbar-lordosis-standing', 30);
    const flexed = number('lumbar-lordosis-flexed-seated', 18);
    expect(derived(id, [standing]).state).toMatchObject({ needs: ['lumbar-lordosis-flexed-seated'] });
    expect(derived(id, [flexed]).state).toMatchObject({ needs: ['lumbar-lordosis-standing'] });
    expect(derived(id, []).state).toMatchObject({
      needs: ['lumbar-lordosis-flexed-seated', 'lumbar-lordosis-standing'],
    });
    expect(
      derived(id, [standing, number('lumbar-lordosis-flexed-seated', [10, Infinity])]).state,
    ).toMatchObject({ status: 'unknown', needs: ['lumbar-lordosis-flexed-seated'] });
  });

  it('of a range is a range, narrowed by its parts', () => {
    const fact = derived(id, [
      number('lumbar-lordosis-standing', [28, 32]),
      number('lumbar-lordosis-flexed-seated', 18),
    ]);
    expect(intervalOf(fact)).toEqual([10, 14]);
    expect(fact.narrowedBy).toEqual(['lumbar-lordosis-flexed-seated', 'lumbar-lordosis-standing']);
  });
});

describe('the change of sacral slope on sitting down', () => {
  const id = 'sacral-slope-change';

  it.each([
    // Truth: clinical decisions §4: slope falls, spinopelvic tilt (posterior positive) grows, APP tilt (anterior positive) falls.
    ['sacral-slope', 40, 20],
    ['spinopelvic-tilt', 13, 33],
    ['app-tilt', 2, -18],
  ])('is read from %s: %d standing, %d seated is 20', (angle, standing, seated) => {
    const fact = derived(id, pair(angle, standing, seated));
    expect(intervalOf(fact)).toEqual([20, 20]);
    expect(fact.remarks.length).toBe(angle === 'sacral-slope' ? 0 : 1);
    expect(fact.remarks.join()).toMatch(
      { 'sacral-slope': /^$/, 'spinopelvic-tilt': /spinopelvic tilt/, 'app-tilt': /APP tilt/ }[angle] ??
        /never/,
    );
  });

  it('is one number when two angles agree, and says nothing of the second', () => {
    const fact = derived(id, [...pair('sacral-slope', 40, 20), ...pair('spinopelvic-tilt', 13, 33)]);
    expect(intervalOf(fact)).toEqual([20, 20]);
    expect(fact.remarks).toEqual([]);
  });

  it('spans all that is recorded when angles differ, says so, and would be narrowed by any of them', () => {
    const fact = derived(id, [...pair('sacral-slope', 40, 32), ...pair('app-tilt', 2, -10)]);
    expect(intervalOf(fact)).toEqual([8, 12]);
    expect(fact.remarks.join()).toMatch(/pelvic angles differ/);
    expect(fact.narrowedBy).toEqual([
      'app-tilt-relaxed-seated',
      'app-tilt-standing',
      'sacral-slope-relaxed-seated',
      'sacral-slope-standing',
    ]);
  });

  it('of nothing recorded asks for the slope; of half a pair, for its other half', () => {
    expect(derived(id, []).state).toMatchObject({
      status: 'unknown',
      needs: ['sacral-slope-relaxed-seated', 'sacral-slope-standing'],
    });
    expect(derived(id, [number('app-tilt-standing', -5)]).state).toMatchObject({
      needs: ['app-tilt-relaxed-seated'],
    });
    expect(
      derived(id, [number('spinopelvic-tilt-standing', 10), unknown('spinopelvic-tilt-relaxed-seated')])
        .state,
    ).toMatchObject({ needs: ['spinopelvic-tilt-relaxed-seated'] });
  });

  it('never turns from below a limit to above it, or back, when one measure is left out, and asks for it when it must', () => {
    // Truth: the project's design, "information is monotone".
    const angles = ['sacral-slope', 'spinopelvic-tilt', 'app-tilt'] as const;
    const some = fc.tuple(
      ...angles.flatMap((angle) =>
        ['standing', 'relaxed-seated'].map((posture) =>
          fc.option(
            fc.integer({ min: -30, max: 60 }).map((value) => number(`${angle}-${posture}`, value)),
            { nil: undefined },
          ),
        ),
      ),
    );
    let left = 0;
    fc.assert(
      fc.property(some, fc.integer({ min: -5, max: 40 }), (drawn, limit) => {
        const facts = drawn.filter((fact) => fact !== undefined);
        const before = compareFact(derived(id, facts), 'below', limit);
        if (before.truth === 'unknown') return;
        for (const { id: out } of facts) {
          const after = compareFact(
            derived(
              id,
              facts.filter((fact) => fact.id !== out),
            ),
            'below',
            limit,
          );
          if (after.truth === before.truth) continue;
          left += 1;
          expect(after.truth).toBe('unknown');
          expect(after.needs).toContain(out);
        }
      }),
      { numRuns: 2000, seed: 51 },
    );
    expect(left).toBeGreaterThan(50);
  });
});
