import { isDeepStrictEqual } from 'node:util';
import { expect } from 'vitest';
import type { CompiledDecide, ConditionOutcome } from '../../src/engine/compiled-decide.js';
import type { BrokenDecision, Decide, Decision, FactMap } from '../../src/engine/decide.js';
import { needsOf } from '../../src/engine/explanation.js';

type Made = Decision | BrokenDecision;

export interface Alike {
  readonly decisions: ReadonlyMap<string, Made>;
  /** By rule, in the order of the rules. */
  readonly outcomes: readonly ConditionOutcome[];
}

/**
 * Decides on the facts by json-rules-engine and by the compiled rules, and expects of both the same bytes, values and
 * faults, and outcomes that are those of the trees.
 */
export async function decidedAlike(engine: Decide, compiled: CompiledDecide, facts: FactMap): Promise<Alike> {
  const decisions = await engine(facts);
  const decided = compiled.decide(facts);
  const outcomes = compiled.outcomes(facts);
  const made = compiled.rules.map(({ id }) => {
    const [one, other] = [decisions.get(id), decided.get(id)];
    if (!one || !other || !isAlike(one, other)) {
      expect(other, id).toStrictEqual(one);
      throw new Error(`${id}: the members of the trees are not in the same order`);
    }
    return one;
  });
  expect([...decided.keys()]).toEqual([...decisions.keys()]);
  expect(outcomes).toEqual(made.map(outcomeOf));
  expect([...compiled.decideLazily(facts).values()].map(verdictOf)).toEqual(made.map(verdictOf));
  return { decisions, outcomes };
}

/** The same bytes, which includes the order of members; the same values, so that no member is there but undefined. */
function isAlike(one: Made, other: Made): boolean {
  if ('error' in one || 'error' in other)
    return 'error' in one && 'error' in other && isSameFault(one, other);
  return JSON.stringify(one) === JSON.stringify(other) && isDeepStrictEqual(one, other);
}

function isSameFault({ error: one }: BrokenDecision, { error: other }: BrokenDecision): boolean {
  return (
    one instanceof Error &&
    other instanceof Error &&
    one.constructor === other.constructor &&
    one.message === other.message
  );
}

/** What a decision says of itself, or what its trees say. */
function verdictOf(made: Made): readonly [ConditionOutcome, readonly string[]] {
  if ('error' in made) return ['broken', []];
  const { verdict } = made;
  if (verdict) return [verdict.outcome, verdict.needs];
  const outcome = outcomeOf(made);
  const open = made.appliesWhen.truth === 'unknown' ? made.appliesWhen : made.when;
  return [outcome, outcome === 'cannot-tell' ? needsOf(open) : []];
}

function outcomeOf(made: Made): ConditionOutcome {
  if ('error' in made) return 'broken';
  if (made.appliesWhen.truth === 'false') return 'not-applicable';
  if (made.appliesWhen.truth === 'unknown') return 'cannot-tell';
  const outcomes = { true: 'fires', false: 'does-not-fire', unknown: 'cannot-tell' } as const;
  return outcomes[made.when.truth];
}
