import { wordsOf } from '../rulebook/resolve-rule.js';
import type { Compute, Finding, Rule } from '../rulebook/types.js';

const NAME = /\{(?:[a-z]+:)?([a-z0-9-]+)/g;

/** Findings belong to the rulebook and never change: what they tell is worked out once. */
const wantedBy = new WeakMap<Finding, ReadonlySet<string>>();

/** The numbers a finding's wording mentions, and those these are made from: only what is told is worked out. */
export function numbersWanted(rule: Rule, finding: Finding): ReadonlySet<string> {
  const known = wantedBy.get(finding);
  if (known) return known;
  const wanted = new Set(
    wordsOf(finding).flatMap((text) => [...text.matchAll(NAME)].map(([, name]) => name ?? '')),
  );
  // What a number is made from is written before it, so going backward meets every need.
  for (const [name, compute] of Object.entries(rule.compute ?? {}).reverse()) {
    if (wanted.has(name)) for (const other of madeFrom(compute)) wanted.add(other);
  }
  wantedBy.set(finding, wanted);
  return wanted;
}

function madeFrom(compute: Compute): readonly string[] {
  if ('line' in compute) return [];
  const inputs =
    'computation' in compute
      ? compute.with
      : 'change' in compute
        ? compute.change.with
        : compute.matching.with;
  const computed = Object.values(inputs ?? {}).flatMap((source) =>
    'computed' in source ? [source.computed] : [],
  );
  return 'matching' in compute ? [...computed, compute.matching.equals] : computed;
}
