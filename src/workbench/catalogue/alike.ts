import { z } from 'zod';
import { byText, compareText, sortedUnique } from '../../base/order.js';
import type { AlikePair } from './burden-schema.js';

/** Rules that fire on more than this share of the hips on which at least one of the two does. */
const ALIKE = 0.95;

/**
 * Pairs of rules that fire alike: of the hips on which one of them fires, nearly all have both. Hips on which both are
 * silent say nothing about likeness and are only counted beside it: two rare rules agree on nearly every hip.
 */
export function alikePairs(fired: readonly ReadonlySet<string>[]): AlikePair[] {
  const hips = hipsByRule(fired);
  const rules = [...hips.keys()].sort(compareText);
  return rules.flatMap((first, index) =>
    rules.slice(index + 1).flatMap((second) => {
      const [one, other] = [hips.get(first) ?? NONE, hips.get(second) ?? NONE];
      const both = [...one].filter((hip) => other.has(hip)).length;
      const either = one.size + other.size - both;
      if (both <= ALIKE * either) return [];
      return [
        { rules: [first, second] as [string, string], both, either, agree: fired.length - either + both },
      ];
    }),
  );
}

const NONE: ReadonlySet<number> = new Set();

function hipsByRule(fired: readonly ReadonlySet<string>[]): ReadonlyMap<string, ReadonlySet<number>> {
  const hips = new Map<string, Set<number>>();
  for (const [hip, rules] of fired.entries())
    for (const rule of rules) {
      const known = hips.get(rule) ?? new Set<number>();
      known.add(hip);
      hips.set(rule, known);
    }
  return hips;
}

/** The form of the reviewed reasons for which two rules may fire alike. */
export const alikeSchema = z.strictObject({
  pairs: z.array(
    z.strictObject({
      /** Their ids, in the order of the alphabet. */
      rules: z.tuple([z.string().min(1), z.string().min(1)]),
      /** What each says that the other does not. */
      reason: z.string().min(20),
      date: z.iso.date(),
      /** The role of whoever judged it. */
      reviewer: z.string().min(1),
    }),
  ),
});

export type ReviewedPair = z.infer<typeof alikeSchema>['pairs'][number];

/** Pairs that nobody has given a reason for, and reasons whose pair does not fire alike (any more). */
export function unreviewedPairs(
  pairs: readonly AlikePair[],
  reviewed: readonly ReviewedPair[],
): { readonly withoutReason: readonly string[]; readonly withoutPair: readonly string[] } {
  const found = pairs.map(({ rules }) => pairName(rules));
  const known = reviewed.map(({ rules }) => pairName(rules));
  return {
    withoutReason: found.filter((name) => !known.includes(name)),
    withoutPair: known.filter((name) => !found.includes(name)),
  };
}

/** Pairs with their reasons, those most alike first. */
export function withReasons(
  pairs: readonly AlikePair[],
  reviewed: readonly ReviewedPair[],
): readonly (AlikePair & { readonly reason?: string })[] {
  const reasons = new Map(reviewed.map(({ rules, reason }) => [pairName(rules), reason]));
  return [...pairs]
    .map((pair) => {
      const reason = reasons.get(pairName(pair.rules));
      return { ...pair, ...(reason !== undefined && { reason }) };
    })
    .sort(
      (a, b) =>
        b.both / b.either - a.both / a.either || byText(({ rules }: AlikePair) => pairName(rules))(a, b),
    );
}

function pairName(rules: readonly [string, string]): string {
  return sortedUnique(rules).join(' and ');
}
