import { sortedUnique } from '../base/order.js';
import { placeholdersOf } from '../rulebook/placeholders.js';
import type { Finding, Rule } from '../rulebook/types.js';

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
  const { summary, found, options = [], checks = [], sure } = finding;
  const told = [...summary, ...found, ...options, ...checks, sure]
    .flatMap(placeholdersOf)
    .flatMap(factsNamed);
  const effects = finding.before ? [] : (rule.effects ?? []).map(({ fact }) => fact);
  const facts = sortedUnique([...told, ...effects]);
  known.set(finding, facts);
  return facts;
}

function factsNamed(name: string): readonly string[] {
  const colon = name.indexOf(':');
  if (colon < 0) return [name];
  const rest = name.slice(colon + 1);
  return name.startsWith('stated:') && rest === 'cup' ? STATED.cup : rest.split(',');
}
