import { describe, expect, it } from 'vitest';
import { shipped } from './shipped.js';

/** Which rules may do without a card of their own. Truth: clinician: what matters most is never told at second hand. */

const RANK = { info: 0, warning: 1, critical: 2 } as const;
const byId = new Map(shipped.rules.map((rule) => [rule.id, rule]));
const yielding = shipped.rules.flatMap((rule) =>
  (rule.yieldsTo ?? []).flatMap((id) => {
    const other = byId.get(id);
    return other ? [{ rule, other }] : [];
  }),
);

describe('a rule that only the page tells', () => {
  it('is about the joint or the data, and never more than information', () => {
    const grave = shipped.rules.filter(
      ({ tells, type, indicator }) =>
        tells === 'page' && (type === 'side' || type === 'identity' || indicator !== 'info'),
    );
    expect(grave.map(({ id }) => id)).toEqual([]);
  });
});

describe('a rule that leaves the word to another', () => {
  it('leaves it to none of a lesser indicator', () => {
    const lesser = yielding.filter(({ rule, other }) => RANK[other.indicator] < RANK[rule.indicator]);
    expect(lesser.map(({ rule, other }) => `${rule.id} → ${other.id}`)).toEqual([]);
  });

  it('leaves it to rules that speak at one of its entries', () => {
    const elsewhere = yielding.filter(
      ({ rule, other }) => !rule.entries.some((entry) => other.entries.includes(entry)),
    );
    expect(elsewhere.map(({ rule, other }) => `${rule.id} → ${other.id}`)).toEqual([]);
  });
});
