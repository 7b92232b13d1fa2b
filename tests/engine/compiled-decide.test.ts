import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compileCondition, compileDecide } from '../../src/engine/compiled-decide.js';
import { explain, leafFromFacts } from '../../src/engine/decide.js';
import type { FactMap } from '../../src/engine/decide.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { Fact } from '../../src/facts/fact.js';
import type { Condition, Rule } from '../../src/rulebook/types.js';
import { atMost } from '../long-form.js';
import { shipped } from '../rulebook/shipped.js';
import { decidedAlike } from './decided-alike.js';
import { absent, all, any, code, factMap, has, leaf, not, number, recorded, unknown } from './facts.js';
import { facts, ruleOf, tree } from './random-rules.js';
import { brokenStates, statesNearLimits } from './states-near-limits.js';

/** Conditions that a random rule has none of: groups of nothing, limits that are no limits, a unit without parameter. */
const ODD: readonly Condition[] = [
  all(),
  any(),
  not(all()),
  leaf('n1', 'above', NaN),
  leaf('n2', 'at-most', Infinity),
  leaf('r1', 'recorded', false),
  leaf('r1', 'above', 3),
  leaf('c1', 'clearly-below', 3),
  leaf('n1', 'equal', 'x'),
  has('nowhere'),
  { kind: 'leaf', fact: 'n1', operator: 'above', limit: { value: 3, unit: 'deg' } },
  { kind: 'leaf', fact: 'n1', operator: 'above', limit: { value: 3, unit: 'deg' }, name: 'first' },
];

const STATES = atMost(1000, 4000);

const conditions = fc.oneof(
  { weight: 30, arbitrary: tree },
  { weight: 1, arbitrary: fc.tuple(tree, fc.constantFrom(...ODD)).map((both) => any(...both)) },
);
const fiveRules = fc
  .array(fc.tuple(conditions, conditions), { minLength: 5, maxLength: 5 })
  .map((pairs) => pairs.map(([appliesWhen, when], index) => ruleOf(`rule-${index}`, appliesWhen, when)));
const fourStates = fc.array(facts, { minLength: 4, maxLength: 4 });

// Truth: independent implementation: json-rules-engine, one rule set and one set of facts at a time.
describe('compiled rules and json-rules-engine', () => {
  it('give byte-identical trees, faults and outcomes for 20,000 random rules and facts', async () => {
    const met = new Map<string, number>();
    await fc.assert(
      fc.asyncProperty(fiveRules, fourStates, async (rules, states) => {
        const [engine, compiled] = [jsonRulesDecide(rules), compileDecide(rules)];
        for (const state of states)
          for (const outcome of (await decidedAlike(engine, compiled, state)).outcomes)
            met.set(outcome, (met.get(outcome) ?? 0) + 1);
      }),
      { numRuns: 1000, seed: 5 },
    );
    expect([...met.values()].reduce((sum, count) => sum + count, 0)).toBe(20_000);
    // Every outcome must have been met often, or the comparison would have seen only a part.
    const outcomes = ['broken', 'cannot-tell', 'does-not-fire', 'fires', 'not-applicable'];
    expect([...met.keys()].sort()).toEqual(outcomes);
    expect(Math.min(...met.values())).toBeGreaterThan(500);
  });

  it(`decide every shipped rule alike on ${STATES} states at its limits, where each meets all four outcomes`, async () => {
    const { rules } = shipped;
    const [engine, compiled] = [jsonRulesDecide(rules), compileDecide(rules)];
    const met = new Map(rules.map(({ id }) => [id, new Set<string>()]));
    await fc.assert(
      fc.asyncProperty(statesNearLimits(rules), async (state) => {
        const { outcomes } = await decidedAlike(engine, compiled, state);
        rules.forEach(({ id }, index) => met.get(id)?.add(outcomes[index] ?? ''));
      }),
      { numRuns: STATES, seed: 6 },
    );
    for (const [rule, outcomes] of met)
      expect([...outcomes].sort(), rule).toEqual(['cannot-tell', 'does-not-fire', 'fires', 'not-applicable']);
  });

  it('find the same faults in every shipped rule when facts do not fit or nobody made them', async () => {
    const { rules } = shipped;
    const [engine, compiled] = [jsonRulesDecide(rules), compileDecide(rules)];
    const broken = new Set<string>();
    await fc.assert(
      fc.asyncProperty(brokenStates(rules), async (state) => {
        const { outcomes } = await decidedAlike(engine, compiled, state);
        rules.filter((_, index) => outcomes[index] === 'broken').forEach(({ id }) => broken.add(id));
      }),
      { numRuns: 300, seed: 7 },
    );
    expect(broken.size).toBe(rules.length);
  });
});

describe('a compiled rule that is broken', () => {
  const good = ruleOf('good', has('r1'), leaf('n1', 'above', 3, 'p'));
  const state = factMap(recorded('r1'), number('n1', 5), absent('r2'), code('c1', 'x'));

  it.each<[string, Condition, string]>([
    ['an operator that does not fit', leaf('r1', 'above', 3), 'r1 cannot be compared with 3'],
    ['a number that is absent', leaf('r2', 'below', 3), 'r2 has no value to compare by "below"'],
    ['a limit that is no number', leaf('n1', 'above', NaN), 'n1 cannot be compared with NaN'],
    ['codes for a number', leaf('n1', 'one-of', ['x']), 'a quantity cannot be compared with a code'],
    ['recorded with false', leaf('r1', 'recorded', false), '"recorded" compares with true, got false'],
    [
      'the first of two faults',
      all(leaf('c1', 'above', 1), leaf('r2', 'below', 3)),
      'c1 cannot be compared with 1',
    ],
    [
      'a fault under an any that is true',
      any(has('r1'), leaf('r2', 'below', 3)),
      'r2 has no value to compare by "below"',
    ],
  ])('by %s tells what broke it, and the others go on', async (_, condition, message) => {
    // Truth: style of the project, §9: one rule breaks: that rule becomes "cannot tell", the others go on.
    for (const rule of [ruleOf('bad', condition, has('r1')), ruleOf('bad', has('r1'), condition)]) {
      const compiled = compileDecide([rule, good]);
      const { outcomes } = await decidedAlike(jsonRulesDecide([rule, good]), compiled, state);
      expect(outcomes).toEqual(['broken', 'fires']);
      expect(compiled.decide(state).get('bad')).toEqual({ error: new TypeError(message) });
    }
  });

  it('by a limit is not broken while the fact is unknown, since then no limit decides', async () => {
    const rule = ruleOf('bad', has('r1'), leaf('n2', 'above', NaN));
    const unread = new Map([...state, ['n2', unknown('n2')]]);
    const { outcomes } = await decidedAlike(jsonRulesDecide([rule]), compileDecide([rule]), unread);
    expect(outcomes).toEqual(['cannot-tell']);
  });

  it('by two limits shows each where the fact is unknown', async () => {
    const rule = ruleOf('bad', leaf('n2', 'above', NaN), leaf('n2', 'above', Infinity));
    const unread = factMap(unknown('n2'));
    const { outcomes } = await decidedAlike(jsonRulesDecide([rule]), compileDecide([rule]), unread);
    expect(outcomes).toEqual(['cannot-tell']);
  });

  it('by a fact of no known form leaves the others alone', async () => {
    const rule = ruleOf('bad', has('r1'), has('r3'));
    const formless = new Map([...state, ['r3', { id: 'r3' } as Fact]]);
    const compiled = compileDecide([rule, good]);
    const { outcomes } = await decidedAlike(jsonRulesDecide([rule, good]), compiled, formless);
    expect(outcomes).toEqual(['broken', 'fires']);
  });
});

describe('compiled rules of which some are changed', () => {
  const compiled = compileDecide(shipped.rules);
  const states = fc.sample(statesNearLimits(shipped.rules), { numRuns: atMost(8, 20), seed: 8 });

  function expectAsAnew(changed: readonly Rule[]): void {
    const [derived, anew] = [compiled.withRules(changed), compileDecide(changed)];
    expect(derived.rules).toBe(changed);
    for (const state of states) {
      expect(derived.outcomes(state)).toEqual(anew.outcomes(state));
      expect(JSON.stringify([...derived.decide(state)])).toBe(JSON.stringify([...anew.decide(state)]));
    }
  }

  it('decide as if compiled anew, when a limit is nudged or an operator flipped', () => {
    for (const rule of shipped.rules)
      for (const change of [nudged, flipped])
        expectAsAnew(shipped.rules.map((one) => (one === rule ? { ...one, when: change(one.when) } : one)));
  });

  it('decide as if compiled anew, when a rule is left out or the order is another', () => {
    for (const rule of shipped.rules) expectAsAnew(shipped.rules.filter((one) => one !== rule));
    expectAsAnew([...shipped.rules].reverse());
    expectAsAnew([]);
  });

  it('leave the original as it was', () => {
    const before = states.map((state) => JSON.stringify([...compiled.decide(state)]));
    const changed = shipped.rules.map((rule) => ({ ...rule, when: flipped(rule.when) }));
    const outcomes = states.map((state) => compiled.withRules(changed).outcomes(state));
    expect(states.map((state) => JSON.stringify([...compiled.decide(state)]))).toEqual(before);
    expect(states.map((state) => compiled.outcomes(state))).not.toEqual(outcomes);
  });

  it('know a fact that only the changed rule asks about, each time it is asked for anew', () => {
    const one = compileDecide([ruleOf('r', has('r1'), has('r2'))]);
    const state = factMap(recorded('r1'), recorded('r3'), absent('r2'));
    for (const time of ['first', 'second'])
      expect(one.withRules([ruleOf('r', has('r1'), has('r3'))]).outcomes(state), time).toEqual(['fires']);
    expect(one.outcomes(state)).toEqual(['does-not-fire']);
  });

  it('tell a nudged limit apart at the value between the old and the new one', () => {
    // Truth: closed form.
    const before = ruleOf('r', has('r1'), leaf('n1', 'above', 3, 'p'));
    const after = ruleOf('r', has('r1'), leaf('n1', 'above', 4, 'p'));
    const [one, other] = [compileDecide([before]), compileDecide([before]).withRules([after])];
    const outcomes = [3, 3.5, 4, 4.5].map((value) => {
      const state = factMap(recorded('r1'), number('n1', value));
      return [...one.outcomes(state), ...other.outcomes(state)];
    });
    expect(outcomes).toEqual([
      ['does-not-fire', 'does-not-fire'],
      ['fires', 'does-not-fire'],
      ['fires', 'does-not-fire'],
      ['fires', 'fires'],
    ]);
  });
});

/** Every numeric limit of a condition raised by one. */
function nudged(condition: Condition): Condition {
  return mapLeaves(condition, (one) =>
    typeof one.limit.value === 'number'
      ? { ...one, limit: { ...one.limit, value: one.limit.value + 1 } }
      : one,
  );
}

const OPPOSITE: Readonly<Record<string, Leaf['operator']>> = {
  above: 'at-most',
  'at-most': 'above',
  below: 'at-least',
  'at-least': 'below',
  'clearly-above': 'clearly-below',
  'clearly-below': 'clearly-above',
};

/** Every operator of a condition turned round; what has no opposite is negated. */
function flipped(condition: Condition): Condition {
  return mapLeaves(condition, (one) => {
    const operator = OPPOSITE[one.operator];
    return operator === undefined ? not(one) : { ...one, operator };
  });
}

type Leaf = Extract<Condition, { kind: 'leaf' }>;

function mapLeaves(condition: Condition, change: (leaf: Leaf) => Condition): Condition {
  if (condition.kind === 'leaf') return change(condition);
  if (condition.kind === 'not') return { ...condition, child: mapLeaves(condition.child, change) };
  return { ...condition, children: condition.children.map((child) => mapLeaves(child, change)) };
}

describe('a compiled condition', () => {
  function expectAsWalked(condition: Condition, states: readonly FactMap[]): ReadonlySet<string> {
    const compiled = compileCondition(condition);
    const truths = states.map((state) => {
      const walked = attempt(() => explain(condition, leafFromFacts(state)));
      expect(attempt(() => compiled.explain(state))).toEqual(walked);
      const truth = attempt(() => compiled.truth(state));
      expect(truth).toEqual(typeof walked === 'object' && 'truth' in walked ? walked.truth : walked);
      return typeof truth === 'string' ? truth : 'broken';
    });
    return new Set(truths);
  }

  it('gives the truth and the tree of the direct walk, and throws what it throws', () => {
    fc.assert(
      fc.property(conditions, fourStates, (condition, states) => {
        expectAsWalked(condition, states);
      }),
      { numRuns: 1000, seed: 9 },
    );
  });

  it('does so for the "where" of every shipped finding, which is not the same in all states', () => {
    const wheres = shipped.rules.flatMap(({ findings }) => findings.flatMap(({ where }) => where ?? []));
    expect(wheres.length).toBeGreaterThan(0);
    const states = fc.sample(statesNearLimits(shipped.rules), { numRuns: atMost(500, 1500), seed: 10 });
    for (const where of wheres) expect(expectAsWalked(where, states).size).toBeGreaterThan(1);
  });

  it('names the fact that nobody made', () => {
    const compiled = compileCondition(has('nowhere'));
    expect(() => compiled.truth(factMap())).toThrow(new TypeError('no fact "nowhere"'));
    expect(() => compiled.explain(factMap())).toThrow(new TypeError('no fact "nowhere"'));
  });
});

/** What a piece of work gives, or the error it throws. */
function attempt<Value>(work: () => Value): Value | Error {
  try {
    return work();
  } catch (error) {
    if (error instanceof Error) return error;
    throw error;
  }
}
