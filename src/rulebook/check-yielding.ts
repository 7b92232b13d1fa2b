import type { Parsed } from './parse.js';
import type { Report } from './check-rules.js';
import type { RuleFile } from './types.js';

export interface YieldingRules {
  readonly rules: readonly Parsed<RuleFile>[];
  /** Ids of rules whose files could not be read as rules. */
  readonly refused: readonly string[];
}

/**
 * A rule may leave the word to rules that have a card of their own; not round in a circle, where each would wait for the
 * other and nothing would be said.
 */
export function checkYielding({ rules, refused }: YieldingRules, report: Report): void {
  const byId = new Map(rules.map(({ value }) => [value.id, value]));
  for (const { file, value } of rules) {
    const { id, tells, yieldsTo = [] } = value;
    if (tells !== undefined && yieldsTo.length > 0)
      report(file, 'yieldsTo', 'nothing, as the rule has no card', yieldsTo.join(', '));
    for (const other of yieldsTo) {
      const target = byId.get(other);
      // A rule whose own file was refused is told there, and not once more by each that yields to it.
      if (!target && refused.includes(other)) continue;
      if (!target || target.tells !== undefined)
        report(
          file,
          'yieldsTo',
          'a rule that has a card',
          target ? `${other} (${target.tells ?? ''} only)` : other,
        );
    }
    if (reaches(id, id, byId, new Set()))
      report(file, 'yieldsTo', 'rules that do not yield back to this one', yieldsTo.join(', '));
  }
}

function reaches(
  from: string,
  wanted: string,
  rules: ReadonlyMap<string, RuleFile>,
  seen: Set<string>,
): boolean {
  if (seen.has(from)) return false;
  seen.add(from);
  const next = rules.get(from)?.yieldsTo ?? [];
  return next.includes(wanted) || next.some((one) => reaches(one, wanted, rules, seen));
}
