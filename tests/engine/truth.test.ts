import { describe, expect, it } from 'vitest';
import { explain, leafFromFacts } from '../../src/engine/decide.js';
import { needsOf } from '../../src/engine/explanation.js';
import * as truth from '../../src/engine/truth.js';
import type { Truth } from '../../src/engine/truth.js';
import type { Condition } from '../../src/rulebook/types.js';
import { absent, all, any, factMap, has, not, recorded, unknown } from './facts.js';

const TRUTHS: readonly Truth[] = ['false', 'unknown', 'true'];

/** Strong Kleene logic by another definition: 0, 1/2 and 1, with minimum, maximum and 1 - x. */
const LEVEL: Readonly<Record<Truth, number>> = { false: 0, unknown: 0.5, true: 1 };

function atLevel(level: number): Truth {
  const found = TRUTHS.find((one) => LEVEL[one] === level);
  if (found === undefined) throw new Error(`no truth at ${level}`);
  return found;
}

const LEAVES = ['a', 'b', 'c'] as const;
type Assignment = Readonly<Record<(typeof LEAVES)[number], Truth>>;

const ASSIGNMENTS: readonly Assignment[] = TRUTHS.flatMap((a) =>
  TRUTHS.flatMap((b) => TRUTHS.map((c) => ({ a, b, c }))),
);

function factsOf(assignment: Assignment): ReturnType<typeof factMap> {
  const one = { true: recorded, false: absent, unknown };
  return factMap(...LEAVES.map((id) => one[assignment[id]](id)));
}

function expected(condition: Condition, assignment: Assignment): number {
  switch (condition.kind) {
    case 'leaf':
      return LEVEL[assignment[condition.fact as 'a' | 'b' | 'c']];
    case 'not':
      return 1 - expected(condition.child, assignment);
    case 'all':
      return Math.min(...condition.children.map((child) => expected(child, assignment)));
    case 'any':
      return Math.max(...condition.children.map((child) => expected(child, assignment)));
  }
}

/** Every tree over the three leaves with up to two levels of groups, each part plain or negated. */
function trees(): readonly Condition[] {
  const maybeNot = (condition: Condition): readonly Condition[] => [condition, not(condition)];
  const leaves = LEAVES.map(has).map(maybeNot);
  const groups = [all, any];
  const found: Condition[] = [];
  for (const a of leaves[0] ?? [])
    for (const b of leaves[1] ?? [])
      for (const c of leaves[2] ?? [])
        for (const outer of groups) {
          found.push(...maybeNot(outer(a, b, c)));
          for (const inner of groups)
            for (const part of maybeNot(inner(a, b))) {
              found.push(...maybeNot(outer(part, c)), ...maybeNot(outer(c, part)));
              // The same leaf twice, on both levels.
              found.push(outer(part, a, c));
            }
        }
  return found;
}

// Truth: closed form; strong Kleene logic is minimum, maximum and 1 - x over 0, 1/2 and 1.
describe('three-valued logic', () => {
  it('has the tables of not, all and any', () => {
    for (const a of TRUTHS) {
      expect(truth.not(a)).toBe(atLevel(1 - LEVEL[a]));
      for (const b of TRUTHS)
        for (const c of TRUTHS) {
          expect(truth.all([a, b, c])).toBe(atLevel(Math.min(LEVEL[a], LEVEL[b], LEVEL[c])));
          expect(truth.any([a, b, c])).toBe(atLevel(Math.max(LEVEL[a], LEVEL[b], LEVEL[c])));
        }
    }
  });

  it('decides every tree of two levels over three leaves as minimum and maximum do', () => {
    const conditions = trees();
    expect(conditions.length).toBeGreaterThan(300);
    for (const condition of conditions)
      for (const assignment of ASSIGNMENTS) {
        const explanation = explain(condition, leafFromFacts(factsOf(assignment)));
        if (LEVEL[explanation.truth] !== expected(condition, assignment))
          expect.fail(
            `${JSON.stringify(condition)} under ${JSON.stringify(assignment)} is ${explanation.truth}`,
          );
      }
  });

  it('never lets knowing more turn an answer around: a known answer stays whatever the unknown leaves become', () => {
    for (const condition of trees())
      for (const assignment of ASSIGNMENTS) {
        const now = explain(condition, leafFromFacts(factsOf(assignment))).truth;
        if (now === 'unknown') continue;
        for (const more of ASSIGNMENTS) {
          const settled = LEAVES.every((id) => assignment[id] === 'unknown' || more[id] === assignment[id]);
          if (settled && explain(condition, leafFromFacts(factsOf(more))).truth !== now)
            expect.fail(
              `${JSON.stringify(condition)}: ${JSON.stringify(assignment)} to ${JSON.stringify(more)}`,
            );
        }
      }
  });

  it('evaluates every branch, also beside one that decides alone', () => {
    const explanation = explain(
      any(has('a'), all(has('b'), not(has('c')))),
      leafFromFacts(factsOf({ a: 'true', b: 'unknown', c: 'false' })),
    );
    expect(explanation).toMatchObject({
      kind: 'any',
      truth: 'true',
      children: [
        { kind: 'compare', fact: 'a', truth: 'true' },
        {
          kind: 'all',
          truth: 'unknown',
          children: [
            { fact: 'b', truth: 'unknown' },
            { kind: 'not', truth: 'true', child: { fact: 'c', truth: 'false' } },
          ],
        },
      ],
    });
  });

  it('keeps unknown under not, so that the absence of a record never reads as the absence of a disease', () => {
    for (const reason of [
      'not-recorded',
      'set-not-read',
      'refused',
      'conflicting',
      'code-unclear',
    ] as const) {
      expect(explain(not(has('a')), leafFromFacts(factMap(unknown('a', reason)))).truth).toBe('unknown');
      expect(explain(not(not(has('a'))), leafFromFacts(factMap(unknown('a', reason)))).truth).toBe('unknown');
    }
  });
});

// Truth: the project's design: needs = the unknown leaves met when descending only through nodes that are unknown.
describe('what an unknown answer needs', () => {
  const needs = (condition: Condition, assignment: Assignment): readonly string[] =>
    needsOf(explain(condition, leafFromFacts(factsOf(assignment))));

  it.each<[Condition, Assignment, readonly string[]]>([
    [has('a'), { a: 'unknown', b: 'true', c: 'true' }, ['a']],
    [not(has('a')), { a: 'unknown', b: 'true', c: 'true' }, ['a']],
    [has('a'), { a: 'true', b: 'unknown', c: 'unknown' }, []],
    [all(has('a'), has('b')), { a: 'unknown', b: 'unknown', c: 'true' }, ['a', 'b']],
    [all(has('a'), has('b')), { a: 'false', b: 'unknown', c: 'true' }, []],
    [any(has('a'), has('b')), { a: 'true', b: 'unknown', c: 'true' }, []],
    [any(has('a'), has('b')), { a: 'false', b: 'unknown', c: 'true' }, ['b']],
    [all(has('a'), any(has('b'), has('c'))), { a: 'unknown', b: 'true', c: 'unknown' }, ['a']],
    [all(has('a'), any(has('b'), has('c'))), { a: 'unknown', b: 'false', c: 'unknown' }, ['a', 'c']],
    [any(has('a'), all(has('b'), has('c'))), { a: 'unknown', b: 'false', c: 'unknown' }, ['a']],
    [any(has('a'), not(all(has('b'), has('c')))), { a: 'false', b: 'true', c: 'unknown' }, ['c']],
    [all(has('b'), has('a'), has('b')), { a: 'unknown', b: 'unknown', c: 'true' }, ['a', 'b']],
  ])('%j under %j is %j', (condition, assignment, expectedNeeds) => {
    expect(needs(condition, assignment)).toEqual(expectedNeeds);
  });

  it('is a set that settles the answer: whatever those facts turn out to be', () => {
    // Truth: closed form; with every needed leaf known and no other, no tree over three leaves stays unknown.
    for (const condition of trees())
      for (const assignment of ASSIGNMENTS) {
        const wanted = needs(condition, assignment);
        for (const more of ASSIGNMENTS) {
          const filled = LEAVES.every((id) =>
            wanted.includes(id) ? more[id] !== 'unknown' : more[id] === assignment[id],
          );
          if (filled && explain(condition, leafFromFacts(factsOf(more))).truth === 'unknown')
            expect.fail(
              `${JSON.stringify(condition)} under ${JSON.stringify(assignment)} needs more than ${wanted.join()}`,
            );
        }
      }
  });

  it('names the inputs of a computation, not the computation', () => {
    const facts = factMap(
      unknown('margin', 'input-missing', ['stem-anteversion', 'head-diameter']),
      unknown('a'),
    );
    const explanation = explain(any(has('margin'), has('a')), leafFromFacts(facts));
    expect(needsOf(explanation)).toEqual(['a', 'head-diameter', 'stem-anteversion']);
  });
});
