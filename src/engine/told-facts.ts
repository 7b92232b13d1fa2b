import { sortedUnique } from '../base/order.js';
import { conditionFacts } from '../rulebook/condition-facts.js';
import { placeholdersOf } from '../rulebook/placeholders.js';
import { namedIn, wordsOf } from '../rulebook/resolve-rule.js';
import type { Condition, Finding, Rule } from '../rulebook/types.js';

/** Rules belong to the rulebook and never change: what a finding tells is worked out once. */
const known = new WeakMap<Finding, readonly string[]>();

/** The cup's two angles are told in one breath. */
const STATED = { cup: ['cup-inclination', 'cup-anteversion'] } as const;

/**
 * The facts a finding's words and effects tell of: what its reader has seen, and would answer anew if it changed. What a
 * scheduler is told has no effects.
 */
export function factsTold(rule: Rule, finding: Finding): readonly string[] {
  const before = known.get(finding);
  if (before) return before;
  const effects = finding.before ? [] : (rule.effects ?? []);
  const names = [...wordsOf(finding), ...effects.map(({ says }) => says)].flatMap(placeholdersOf);
  const facts = sortedUnique([
    ...wordsOf(finding).flatMap(placeholdersOf).flatMap(factsNamed),
    ...effects.map(({ fact }) => fact),
    ...conditionsTold(rule, names).flatMap(conditionFacts),
  ]);
  known.set(finding, facts);
  return facts;
}

/** The conditions that words depend on, and the causes where they are told. */
function conditionsTold({ named, causes = [] }: Rule, placeholders: readonly string[]): readonly Condition[] {
  const asked = placeholders.flatMap((name) => namedIn(name) ?? []);
  const behind = placeholders.some((name) => name.startsWith('causes:'))
    ? causes.map(({ condition }) => condition)
    : [];
  return [...new Set([...asked, ...behind])].flatMap((name) => named.get(name) ?? []);
}

function factsNamed(name: string): readonly string[] {
  const colon = name.indexOf(':');
  if (colon < 0) return [name];
  const rest = name.slice(colon + 1);
  return name.startsWith('stated:') && rest === 'cup' ? STATED.cup : rest.split(',');
}
