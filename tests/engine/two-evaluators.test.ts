import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { explain, leafFromFacts } from '../../src/engine/decide.js';
import type { Decision } from '../../src/engine/decide.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { Fact, UnknownReason } from '../../src/facts/fact.js';
import type { Condition, Operator, Rule } from '../../src/rulebook/types.js';
import { shipped } from '../rulebook/shipped.js';
import { absent, all, any, code, factMap, flag, has, leaf, not, number, recorded, unknown } from './facts.js';

/** The last is the id of a computation's variant. */
const NUMBERS = ['n1', 'n2', 'n3[a=b]'] as const;
const RECORDS = ['r1', 'r2', 'r3'] as const;
const CODES = ['c1', 'c2'] as const;
const VALUES = ['x', 'y', 'z'] as const;

const REASONS: readonly UnknownReason[] = [
  'not-recorded',
  'set-not-read',
  'refused',
  'conflicting',
  'input-missing',
];

const whole = fc.integer({ min: 0, max: 6 });
const unknownFact = (id: string): fc.Arbitrary<Fact> =>
  fc
    .tuple(fc.constantFrom(...REASONS), fc.subarray(['m1', 'm2', 'm3'], { minLength: 1 }))
    .map(([reason, needs]) => unknown(id, reason, needs));
const numberFact = (id: string): fc.Arbitrary<Fact> =>
  fc.oneof(
    unknownFact(id),
    fc
      .tuple(whole, whole, fc.constantFrom(undefined, 0, 1))
      .map(([a, b, error]) =>
        number(id, [Math.min(a, b), Math.max(a, b)], error === undefined ? {} : { error }),
      ),
    whole.map((value) => number(id, value, { error: 0, narrowedBy: ['m4'] })),
    fc
      .tuple(whole, fc.boolean())
      .map(([value, up]) => number(id, up ? [value, Infinity] : [-Infinity, value])),
  );
const recordFact = (id: string): fc.Arbitrary<Fact> =>
  fc.oneof(unknownFact(id), fc.constant(absent(id)), fc.constant(recorded(id, 'seen')));
const codeFact = (id: string): fc.Arbitrary<Fact> =>
  fc.oneof(
    unknownFact(id),
    fc.subarray([...VALUES], { minLength: 1 }).map((codes) => code(id, ...codes)),
  );

const facts: fc.Arbitrary<ReadonlyMap<string, Fact>> = fc
  .tuple(
    ...NUMBERS.map(numberFact),
    ...RECORDS.map(recordFact),
    ...CODES.map(codeFact),
    fc.oneof(
      unknownFact('f1'),
      fc.boolean().map((value) => flag('f1', value)),
    ),
  )
  .map((list) => factMap(...list));

const numeric = fc.constantFrom<Operator>(
  'above',
  'below',
  'at-least',
  'at-most',
  'clearly-above',
  'clearly-below',
);
const anyLeaf: fc.Arbitrary<Condition> = fc.oneof(
  fc
    .tuple(fc.constantFrom(...NUMBERS), numeric, whole)
    .map(([id, operator, limit]) => leaf(id, operator, limit, 'p')),
  fc.constantFrom(...RECORDS).map(has),
  fc
    .tuple(fc.constantFrom(...CODES), fc.constantFrom(...VALUES))
    .map(([id, value]) => leaf(id, 'equal', value)),
  fc
    .tuple(fc.constantFrom(...CODES), fc.subarray([...VALUES], { minLength: 1 }))
    .map(([id, values]) => leaf(id, 'one-of', values)),
  fc.boolean().map((value) => leaf('f1', 'equal', value)),
);

const { tree } = fc.letrec<{ tree: Condition }>((tie) => {
  const children = fc.array(tie('tree'), { minLength: 1, maxLength: 4 });
  const named = fc.option(fc.constantFrom('first', 'second'), { nil: undefined });
  const name = ([condition, given]: readonly [Condition, string | undefined]): Condition =>
    given === undefined ? condition : { ...condition, name: given };
  return {
    tree: fc.oneof(
      { maxDepth: 4, withCrossShrink: true },
      fc.tuple(anyLeaf, named).map(name),
      fc
        .tuple(
          children.map((list) => all(...list)),
          named,
        )
        .map(name),
      fc
        .tuple(
          children.map((list) => any(...list)),
          named,
        )
        .map(name),
      fc.tuple(tie('tree').map(not), named).map(name),
    ),
  };
});

const [template] = shipped.rules;

function ruleOf(id: string, appliesWhen: Condition, when: Condition): Rule {
  if (!template) throw new Error('the rulebook is empty');
  return { ...template, id, appliesWhen, when };
}

async function byEngine(rule: Rule, map: ReadonlyMap<string, Fact>): Promise<Decision> {
  const decision = (await jsonRulesDecide([rule])(map)).get(rule.id);
  if (!decision || 'error' in decision) throw new Error('the engine did not decide', { cause: decision });
  return decision;
}

function byWalk(rule: Rule, map: ReadonlyMap<string, Fact>): Decision {
  const read = leafFromFacts(map);
  return { appliesWhen: explain(rule.appliesWhen, read), when: explain(rule.when, read) };
}

// Truth: the project's design: two implementations of decide(); a property test proves their trees byte-identical.
describe('json-rules-engine and the direct walk', () => {
  it('give byte-identical explanations for 2,000 random conditions and facts', async () => {
    const seen = new Set<string>();
    await fc.assert(
      fc.asyncProperty(tree, tree, facts, async (appliesWhen, when, map) => {
        const rule = ruleOf('random', appliesWhen, when);
        const walked = byWalk(rule, map);
        expect(JSON.stringify(await byEngine(rule, map))).toBe(JSON.stringify(walked));
        seen.add(`${walked.appliesWhen.truth} ${walked.when.truth}`);
      }),
      { numRuns: 2000, seed: 2000 },
    );
    // All nine pairs of truths must have been met, or the comparison would have seen only a part.
    expect(seen.size).toBe(9);
  });

  it('never fire on a not over something unknown, however deep', async () => {
    await fc.assert(
      fc.asyncProperty(fc.constantFrom(...REASONS), fc.integer({ min: 1, max: 6 }), async (reason, depth) => {
        const negated = Array.from({ length: depth }).reduce<Condition>((inner) => not(inner), has('r1'));
        const rule = ruleOf('negated', has('r2'), negated);
        const decision = await byEngine(rule, factMap(unknown('r1', reason), recorded('r2')));
        expect([decision.appliesWhen.truth, decision.when.truth]).toEqual(['true', 'unknown']);
      }),
      { numRuns: 100, seed: 30 },
    );
  });

  it('decide many rules at once as they decide each alone', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.tuple(tree, tree), { minLength: 2, maxLength: 6 }),
        facts,
        async (pairs, map) => {
          const rules = pairs.map(([appliesWhen, when], index) => ruleOf(`rule-${index}`, appliesWhen, when));
          const decisions = await jsonRulesDecide(rules)(map);
          expect([...decisions.keys()]).toEqual(rules.map(({ id }) => id));
          for (const rule of rules)
            expect(JSON.stringify(decisions.get(rule.id))).toBe(JSON.stringify(byWalk(rule, map)));
        },
      ),
      { numRuns: 100, seed: 31 },
    );
  });

  it('keep apart the answers of calls that run at the same time', async () => {
    // Truth: closed form; one engine serves concurrent calls.
    const decide = jsonRulesDecide([ruleOf('r', has('r1'), leaf('n1', 'above', 3, 'p'))]);
    const calls = Array.from({ length: 50 }, (_, index) =>
      decide(factMap(index % 2 ? recorded('r1') : absent('r1'), number('n1', index % 7))),
    );
    const truths = (await Promise.all(calls)).map((decisions) => {
      const decision = decisions.get('r');
      return decision && 'when' in decision ? [decision.appliesWhen.truth, decision.when.truth] : [];
    });
    expect(truths).toEqual(
      Array.from({ length: 50 }, (_, index) => [String(index % 2 === 1), String(index % 7 > 3)]),
    );
  });

  it('leave the other rules alone when one is broken, whatever breaks it', async () => {
    // Truth: style of the project, §9: one rule breaks: that rule becomes "cannot tell", the others go on.
    const good = ruleOf('good', has('r1'), leaf('n1', 'above', 3, 'p'));
    const map = factMap(recorded('r1'), number('n1', 5), absent('r2'));
    const broken: readonly Rule[] = [
      ruleOf('wrong-operator', has('r1'), leaf('r1', 'above', 3)),
      ruleOf('absent-number', has('r1'), leaf('r2', 'below', 3)),
      ruleOf('no-limit', has('r1'), leaf('n1', 'above', NaN)),
    ];
    for (const rule of broken) {
      const decisions = await jsonRulesDecide([rule, good])(map);
      expect(decisions.get(rule.id), rule.id).toHaveProperty('error');
      expect(decisions.get('good'), rule.id).toEqual(byWalk(good, map));
    }
  });

  it('leave the other rules alone when one asks about a fact that nobody made', async () => {
    // Truth: style of the project, §9, as above.
    const good = ruleOf('good', has('r1'), leaf('n1', 'above', 3, 'p'));
    const map = factMap(recorded('r1'), number('n1', 5));
    const decisions = await jsonRulesDecide([ruleOf('lost', has('r1'), has('nowhere')), good])(map);
    expect(decisions.get('lost')).toHaveProperty('error');
    expect(decisions.get('good')).toEqual(byWalk(good, map));
  });
});
