import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { explain, leafFromFacts } from '../../src/engine/decide.js';
import type { Decision } from '../../src/engine/decide.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { Fact } from '../../src/facts/fact.js';
import type { Condition, Rule } from '../../src/rulebook/types.js';
import { absent, factMap, has, leaf, not, number, recorded, unknown } from './facts.js';
import { facts, REASONS, ruleOf, tree } from './random-rules.js';

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
