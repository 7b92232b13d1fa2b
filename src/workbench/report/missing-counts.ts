import { byText } from '../../base/order.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import { titleOf } from '../../render/words.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { MissingFact } from './report-types.js';

interface Counts {
  outcomes: number;
  alone: number;
  patients: number;
  /** The member counted last, so that none is counted twice. */
  last: number;
  readonly rules: Set<string>;
}

/** Which facts outcomes "cannot tell" ask for. */
export class MissingCounts {
  readonly #facts = new Map<string, Counts>();

  add(hips: readonly HipEvaluation[], member: number): void {
    for (const { advisories } of hips)
      for (const { rule, outcome, needs } of advisories)
        if (outcome === 'cannot-tell')
          for (const need of needs) this.#count(need, { rule, member, isAlone: needs.length === 1 });
  }

  #count(
    fact: string,
    { rule, member, isAlone }: { readonly rule: string; readonly member: number; readonly isAlone: boolean },
  ): void {
    const known = this.#facts.get(fact) ?? { outcomes: 0, alone: 0, patients: 0, last: -1, rules: new Set() };
    this.#facts.set(fact, known);
    known.outcomes += 1;
    if (isAlone) known.alone += 1;
    if (known.last !== member) known.patients += 1;
    known.last = member;
    known.rules.add(rule);
  }

  figures(rulebook: Rulebook): readonly MissingFact[] {
    return [...this.#facts]
      .map(([fact, { outcomes, alone, patients, rules }]) => ({
        fact,
        title: titleOf(fact, rulebook),
        outcomes,
        alone,
        patients,
        rules: [...rules].sort(),
      }))
      .sort((a, b) => b.outcomes - a.outcomes || byText(({ fact }: MissingFact) => fact)(a, b));
  }
}
