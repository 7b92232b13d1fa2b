import fc from 'fast-check';
import type { Fact, UnknownReason } from '../../src/facts/fact.js';
import type { Condition, Operator, Rule } from '../../src/rulebook/types.js';
import { shipped } from '../rulebook/shipped.js';
import { absent, all, any, code, factMap, flag, has, leaf, not, number, recorded, unknown } from './facts.js';

/** The last is the id of a computation's variant. */
const NUMBERS = ['n1', 'n2', 'n3[a=b]'] as const;
const RECORDS = ['r1', 'r2', 'r3'] as const;
const CODES = ['c1', 'c2'] as const;
const VALUES = ['x', 'y', 'z'] as const;

const EVERY_REASON: Readonly<Record<UnknownReason, true>> = {
  'not-recorded': true,
  'set-not-read': true,
  refused: true,
  stale: true,
  conflicting: true,
  'definition-unknown': true,
  'sign-unconfirmed': true,
  'side-unknown': true,
  'code-unclear': true,
  'input-missing': true,
  'spans-limit': true,
  'could-not-evaluate': true,
};

/** Every reason why a fact may be unknown; the compiler refuses a list that lacks one. */
export const REASONS = Object.keys(EVERY_REASON) as readonly UnknownReason[];

const whole = fc.integer({ min: 0, max: 6 });
/** A fact unknown for any reason, needing itself or others. */
export const unknownFact = (id: string): fc.Arbitrary<Fact> =>
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

/** A fact of each kind under every id, in any state that a reader may give it. */
export const facts: fc.Arbitrary<ReadonlyMap<string, Fact>> = fc
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

/** A condition as deep as rules are, with any operator. */
export const { tree } = fc.letrec<{ tree: Condition }>((tie) => {
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

export function ruleOf(id: string, appliesWhen: Condition, when: Condition): Rule {
  if (!template) throw new Error('the rulebook is empty');
  return { ...template, id, appliesWhen, when };
}
