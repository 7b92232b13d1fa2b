import { conditionsOf } from '../../src/rulebook/condition-facts.js';
import fc from 'fast-check';
import type { Fact } from '../../src/facts/fact.js';
import type { Condition, Rule } from '../../src/rulebook/types.js';
import { absent, code, factMap, flag, number, recorded } from './facts.js';
import { unknownFact } from './random-rules.js';

type Leaf = Extract<Condition, { kind: 'leaf' }>;
type AnyFact = fc.Arbitrary<Fact>;
type AnyFacts = fc.Arbitrary<ReadonlyMap<string, Fact>>;

/** The smallest step of a computed number, and one that clearly leaves the limit. */
const STEPS = [-1, -1e-6, 0, 1e-6, 1] as const;

/** How much of a record is known, and how much of it was looked for and found. */
interface Fullness {
  readonly known: number;
  readonly found: number;
}

/** Half of everything found; and a healthy patient, without whom a rule that any diagnosis fires would always fire. */
const FULLNESS: readonly Fullness[] = [
  { known: 0.85, found: 0.5 },
  { known: 0.99, found: 0.05 },
];

/**
 * Random states of every fact the rules ask about, where they decide: numbers at, just below and just above each limit,
 * exact, as an interval or open on one side, with and without a measuring band that reaches the limit; each code asked
 * for and another one; found, absent, and unknown for every reason.
 */
export function statesNearLimits(rules: readonly Rule[]): AnyFacts {
  const askedOf = new Map<string, Leaf[]>();
  for (const leaf of rules.flatMap(conditionsOf).flatMap(leavesOf))
    askedOf.set(leaf.fact, [...(askedOf.get(leaf.fact) ?? []), leaf]);
  const statesOf = (fullness: Fullness): AnyFacts =>
    fc
      .tuple(...[...askedOf].map(([id, leaves]) => stateOf(id, leaves, fullness)))
      .map((states) => factMap(...states));
  return fc.oneof(...FULLNESS.map(statesOf));
}

/** The same, with some facts of a kind that does not fit, and some that nobody made. */
export function brokenStates(rules: readonly Rule[]): AnyFacts {
  return fc
    .tuple(statesNearLimits(rules), fc.infiniteStream(fc.integer({ min: 0, max: 200 })))
    .map(([facts, dice]) => {
      const broken = [...facts].flatMap(([id, fact]) => {
        switch (dice.next().value) {
          case 0:
            return [];
          case 1:
            return [[id, absent(id)] as const];
          case 2:
            return [[id, code(id, 'another')] as const];
          case 3:
            return [[id, recorded(id, 'seen')] as const];
          case 4:
            return [[id, number(id, 1)] as const];
          default:
            return [[id, fact] as const];
        }
      });
      return new Map(broken);
    });
}

function leavesOf(condition: Condition): readonly Leaf[] {
  if (condition.kind === 'leaf') return [condition];
  return (condition.kind === 'not' ? [condition.child] : condition.children).flatMap(leavesOf);
}

function stateOf(id: string, leaves: readonly Leaf[], { known, found }: Fullness): AnyFact {
  return share(known, knownState(id, leaves, found), unknownFact(id));
}

/** One in this share of the cases, otherwise the other. */
function share(of: number, one: AnyFact, other: AnyFact): AnyFact {
  const weight = Math.round(of * 100);
  return fc.oneof({ weight, arbitrary: one }, { weight: 100 - weight, arbitrary: other });
}

function knownState(id: string, leaves: readonly Leaf[], found: number): AnyFact {
  const values = leaves.flatMap(({ limit }) => limit.value);
  const numbers = values.filter((value) => typeof value === 'number');
  if (numbers.length > 0) return numberNear(id, numbers);
  const codes = values.filter((value) => typeof value === 'string');
  if (codes.length > 0) return share(0.9, codeAmong(id, [...codes, 'another']), fc.constant(absent(id)));
  return leaves.some(({ operator }) => operator === 'recorded')
    ? share(found, fc.constant(recorded(id, 'seen')), fc.constant(absent(id)))
    : fc.constantFrom(flag(id, true), flag(id, false));
}

function numberNear(id: string, limits: readonly number[]): AnyFact {
  const point = fc.constantFrom(...limits.flatMap((limit) => STEPS.map((step) => limit + step)));
  const ends = fc.oneof(
    { weight: 4, arbitrary: point.map((value) => [value, value] as const) },
    {
      weight: 2,
      arbitrary: fc.tuple(point, point).map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const),
    },
    { weight: 1, arbitrary: point.map((value) => [value, Infinity] as const) },
    { weight: 1, arbitrary: point.map((value) => [-Infinity, value] as const) },
  );
  const band = fc.constantFrom({}, { error: 0 }, { error: 1e-6 }, { error: 1 });
  const needs = fc.constantFrom({}, { narrowedBy: [] }, { narrowedBy: ['m1', 'm2'] });
  return fc
    .tuple(ends, band, needs)
    .map(([interval, error, narrowedBy]) => number(id, interval, { ...error, ...narrowedBy }));
}

function codeAmong(id: string, codes: readonly string[]): AnyFact {
  return fc.oneof(
    ...codes.map((one) => fc.constant(code(id, one))),
    fc.subarray([...codes], { minLength: 1 }).map((some) => code(id, ...some)),
  );
}
