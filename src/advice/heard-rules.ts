import type { Entry, Rule, Rulebook } from '../rulebook/types.js';
import { isRepeating } from './worded-cards.js';

/** A rulebook never changes: what follows from it alone is worked out once. */
const rulesByEntry = new WeakMap<Rulebook, Map<Entry, readonly Rule[]>>();

/** The rules that have a say at an entry. */
export function rulesAt(rulebook: Rulebook, entry: Entry): readonly Rule[] {
  const kept = rulesByEntry.get(rulebook) ?? new Map<Entry, readonly Rule[]>();
  rulesByEntry.set(rulebook, kept);
  const rules = kept.get(entry) ?? rulebook.rules.filter((rule) => rule.entries.includes(entry));
  kept.set(entry, rules);
  return rules;
}

const repeatingOf = new WeakMap<Rulebook, ReadonlySet<string>>();

/** The rules that repeat however often they were answered. */
export function repeatingRules(rulebook: Rulebook): ReadonlySet<string> {
  const known = repeatingOf.get(rulebook);
  if (known) return known;
  const repeating = new Set(rulebook.rules.filter(isRepeating).map(({ id }) => id));
  repeatingOf.set(rulebook, repeating);
  return repeating;
}
