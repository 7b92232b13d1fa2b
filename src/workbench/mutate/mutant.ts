import type { Rule, Rulebook } from '../../rulebook/types.js';

/** What kind of slip a mutant imitates. */
export const MUTANT_KINDS = ['threshold', 'operator', 'branch', 'finding', 'rule', 'code'] as const;
export type MutantKind = (typeof MUTANT_KINDS)[number];

/** One small change to the rules, as a reviewer would read it in the file. */
export interface MutantPlace {
  /** Kind, file, place and change in one line; the same as long as the rule reads the same. */
  readonly id: string;
  readonly kind: MutantKind;
  readonly file: string;
  /** Place inside the file, such as `when.any[0].value`. */
  readonly path: string;
  readonly change: string;
}

/** A change to a rule, and the rules that read otherwise for it. */
export interface RuleMutant extends MutantPlace {
  /** Each rule that changes, with what it becomes; undefined when it is gone. */
  readonly changed: ReadonlyMap<string, Rule | undefined>;
}

/** A code taken out of a value set, and the knowledge without it. */
export interface CodeMutant extends MutantPlace {
  readonly valueSet: string;
  readonly system: string;
  readonly code: string;
  readonly rulebook: () => Rulebook;
}

export function placeOf(kind: MutantKind, file: string, path: string, change: string): MutantPlace {
  const at = path === '' ? file : `${file} ${path}`;
  return { id: `${kind}: ${at}: ${change}`, kind, file, path, change };
}
