import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { explain, leafFromFacts } from '../../../src/engine/decide.js';
import type { Fact } from '../../../src/facts/fact.js';
import type { Condition } from '../../../src/rulebook/types.js';
import { exactFact, knownFact, recordedFact, unknownFact } from '../../../src/workbench/check/edge-values.js';
import { goalsHold, searchState } from '../../../src/workbench/check/search.js';
import type { Goal, Wanted } from '../../../src/workbench/check/search.js';
import { seededNumbers, shuffled } from '../../../src/workbench/check/seeded.js';

const edges = new Map<string, readonly Fact[]>([
  ['angle', [...[4, 5, 6, 9, 10].map((value) => exactFact('angle', value)), unknownFact('angle')]],
  ['ill', [recordedFact('ill'), knownFact('ill', { status: 'absent' }), unknownFact('ill')]],
  ['worn', [recordedFact('worn'), knownFact('worn', { status: 'absent' })]],
]);

const leaf = fc.oneof(
  fc.record({
    kind: fc.constant('leaf' as const),
    fact: fc.constant('angle'),
    operator: fc.constantFrom('above' as const, 'below' as const, 'at-least' as const, 'at-most' as const),
    limit: fc.record({ value: fc.constantFrom(5, 10) }),
  }),
  fc.record({
    kind: fc.constant('leaf' as const),
    fact: fc.constantFrom('ill', 'worn'),
    operator: fc.constant('recorded' as const),
    limit: fc.constant({ value: true }),
  }),
);

const { condition } = fc.letrec<{ condition: Condition }>((tie) => ({
  condition: fc.oneof(
    { depthSize: 'small', withCrossShrink: true },
    leaf,
    fc.record({ kind: fc.constant('not' as const), child: tie('condition') }),
    fc.record({
      kind: fc.constantFrom('all' as const, 'any' as const),
      children: fc.array(tie('condition'), { minLength: 1, maxLength: 3 }),
    }),
  ),
}));

const goal: fc.Arbitrary<Goal> = fc.oneof(
  fc.record({
    condition,
    wanted: fc.constantFrom<Wanted>('true', 'false', 'not-true', 'not-false'),
  }),
  fc.record({
    fact: fc.constantFrom('angle', 'ill', 'worn'),
    status: fc.constantFrom('present' as const, 'not-present' as const, 'unknown' as const, 'known' as const),
  }),
  fc.record({
    oneOf: fc.array(
      fc.record({ condition, wanted: fc.constant('true' as const) }).map((one) => [one]),
      { minLength: 1, maxLength: 3 },
    ),
  }),
);

/** Every state there is at these edges. */
function everyState(): readonly ReadonlyMap<string, Fact>[] {
  let states: readonly ReadonlyMap<string, Fact>[] = [new Map()];
  for (const [id, facts] of edges)
    states = states.flatMap((state) => facts.map((fact) => new Map([...state, [id, fact]])));
  return states;
}

/** Whether a goal holds, by the engine's own evaluation of the whole condition. */
function holds(one: Goal, state: ReadonlyMap<string, Fact>): boolean {
  if ('oneOf' in one) return one.oneOf.some((way) => way.every((each) => holds(each, state)));
  if ('fact' in one) {
    const status = state.get(one.fact)?.state.status;
    const isPresent = status === 'present';
    const isUnknown = status === 'unknown';
    return { present: isPresent, 'not-present': !isPresent, unknown: isUnknown, known: !isUnknown }[
      one.status
    ];
  }
  const { truth } = explain(one.condition, leafFromFacts(state));
  return {
    true: truth === 'true',
    false: truth === 'false',
    'not-true': truth !== 'true',
    'not-false': truth !== 'false',
  }[one.wanted];
}

// Truth: independent; every state tried one by one, each condition evaluated by the engine.
describe('the search for a state', () => {
  const states = everyState();

  it('finds one exactly when there is one, and one in which all goals hold', () => {
    let [found, none] = [0, 0];
    fc.assert(
      fc.property(fc.array(goal, { minLength: 1, maxLength: 4 }), fc.nat(), (goals, seed) => {
        const next = seededNumbers(seed);
        const search = searchState(goals, edges, (items) => shuffled(items, next));
        const exists = states.some((state) => goals.every((one) => holds(one, state)));
        expect(search.kind).toBe(exists ? 'state' : 'none');
        if (search.kind === 'state') found++;
        else none++;
        if (search.kind !== 'state') return;
        const { facts } = search;
        // Whatever the facts that were not asked about may be.
        const completed = states.filter((state) => [...facts].every(([id, fact]) => state.get(id) === fact));
        expect(completed.length).toBeGreaterThan(0);
        for (const state of completed) {
          expect(goals.every((one) => holds(one, state))).toBe(true);
          expect(goalsHold(goals, state)).toBe(true);
        }
      }),
      { numRuns: 2_000 },
    );
    expect(Math.min(found, none)).toBeGreaterThan(200);
  });
});
