import type { Advisor } from '../../advice/index.js';
import { asDecide, compileDecide } from '../../engine/compiled-decide.js';
import { COMPUTATIONS } from '../../engine/computations.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { RuleSources } from '../rule-sources.js';
import type { TrialCase } from '../trial/trial-case.js';
import { codeMutants } from './code-mutants.js';
import type { CodeMutant, MutantKind, MutantPlace, RuleMutant } from './mutant.js';
import { MUTANT_KINDS } from './mutant.js';
import { CodeNoticer } from './notice-codes.js';
import { RuleNoticer } from './notice-rules.js';
import { observe } from './observed.js';
import { ruleMutants } from './rule-mutants.js';
import { staleReasons, withReasons } from './survivors.js';
import type { ReviewedSurvivor, Survivor } from './survivors.js';

export interface MutateInput {
  readonly rulebook: Rulebook;
  readonly sources: RuleSources;
  readonly site?: Site;
  readonly engine: string;
  /** Test patients, edge cases and single codes. */
  readonly cases: readonly TrialCase[];
  readonly reviewed: readonly ReviewedSurvivor[];
  /** Only these kinds of change; all when left out. */
  readonly kinds?: readonly MutantKind[];
  /** Only changes to this rule or named condition. */
  readonly only?: string;
  readonly progress?: (step: MutateStep) => void;
}

export interface MutateStep {
  readonly doing: 'reading' | 'mutating';
  readonly done: number;
  readonly all: number;
}

export interface KindCount {
  readonly kind: MutantKind;
  readonly made: number;
  readonly noticed: number;
}

/** What a mutation run found. */
export interface Mutation {
  readonly kind: 'mutation';
  readonly rulebook: { readonly version: string; readonly hash: string };
  readonly cases: number;
  readonly counts: readonly KindCount[];
  /** Changes that no case noticed, each with its reason where one was reviewed. */
  readonly survivors: readonly Survivor[];
  /** Reviewed reasons that no longer belong to a survivor. */
  readonly stale: readonly ReviewedSurvivor[];
  /** Value sets that nothing reads, so that no code of theirs can be missed. */
  readonly unread: readonly string[];
  /** Cases the rules as they are do not keep; nothing else was tried then. */
  readonly failing: readonly string[];
}

/** Changes the rules in one small way after another and lists what no case would notice. Same input, same result. */
export async function mutate(input: MutateInput): Promise<Mutation> {
  const { rulebook, engine, site, progress } = input;
  const { mutants, unread } = wanted(input);
  const cases = input.cases.filter(({ expects }) => mayNotice(expects, mutants));
  const advisor: Advisor = {
    rulebook,
    decide: asDecide(compileDecide(rulebook.rules)),
    computations: COMPUTATIONS,
  };
  const setting = { advisor, engine, ...(site && { site }) };
  const { observed, failing } = await observe(cases, setting, (done) =>
    progress?.({ doing: 'reading', done, all: cases.length }),
  );
  const found = {
    kind: 'mutation',
    rulebook: { version: rulebook.about.version, hash: rulebook.hash },
  } as const;
  const nothing = { counts: [], survivors: [], stale: [], unread: [] };
  if (failing.length > 0) return { ...found, cases: cases.length, ...nothing, failing };
  const noticers = {
    rules: new RuleNoticer(observed, advisor),
    codes: new CodeNoticer(observed, advisor),
  };
  const survivors: MutantPlace[] = [];
  let done = 0;
  for (const mutant of mutants) {
    const by = await noticedBy(mutant, noticers);
    if (by === undefined) survivors.push(mutant);
    done += 1;
    progress?.({ doing: 'mutating', done, all: mutants.length });
  }
  return {
    ...found,
    cases: cases.length,
    counts: counted(mutants, survivors),
    survivors: withReasons(survivors, input.reviewed),
    stale: staleReasons(input.reviewed, survivors, triedIds(input, mutants)),
    unread,
    failing,
  };
}

/** Cards may notice anything; an outcome only what its rule says, a single code only what a code means. */
function mayNotice(expects: TrialCase['expects'], mutants: readonly (RuleMutant | CodeMutant)[]): boolean {
  switch (expects.kind) {
    case 'cards':
      return true;
    case 'outcome':
      return mutants.some((mutant) => !('changed' in mutant) || mutant.changed.has(expects.rule));
    case 'facts':
      return mutants.some((mutant) => !('changed' in mutant));
  }
}

function noticedBy(
  mutant: RuleMutant | CodeMutant,
  { rules, codes }: { readonly rules: RuleNoticer; readonly codes: CodeNoticer },
): Promise<string | undefined> {
  return 'changed' in mutant ? rules.noticedBy(mutant) : codes.noticedBy(mutant);
}

function wanted({ sources, rulebook, kinds = MUTANT_KINDS, only }: MutateInput): {
  readonly mutants: readonly (RuleMutant | CodeMutant)[];
  readonly unread: readonly string[];
} {
  const rules = ruleMutants(sources, rulebook);
  // A code list belongs to no rule, so it is left out where one rule is asked for.
  const codes = kinds.includes('code') && only === undefined ? codeMutants(sources, rulebook) : undefined;
  const files = new Set(only === undefined ? [] : filesOf(only, sources));
  const chosen = rules.filter(
    ({ kind, file }) => kinds.includes(kind) && (only === undefined || files.has(file)),
  );
  return { mutants: [...chosen, ...(codes?.mutants ?? [])], unread: codes?.unread ?? [] };
}

/** The file of a rule or named condition. */
function filesOf(id: string, { rules, named }: RuleSources): readonly string[] {
  const rule = rules.find(({ value }) => value.id === id)?.file;
  return [rule, named.get(id)?.file].filter((file) => file !== undefined);
}

function counted(mutants: readonly MutantPlace[], survivors: readonly MutantPlace[]): readonly KindCount[] {
  return MUTANT_KINDS.flatMap((kind) => {
    const made = mutants.filter((mutant) => mutant.kind === kind).length;
    const left = survivors.filter((mutant) => mutant.kind === kind).length;
    return made === 0 ? [] : [{ kind, made, noticed: made - left }];
  });
}

/** Whether a reviewed reason was put to the test: of a whole run every one was, of a part those that were made. */
function triedIds({ kinds, only }: MutateInput, mutants: readonly MutantPlace[]): (id: string) => boolean {
  if (kinds === undefined && only === undefined) return () => true;
  const made = new Set(mutants.map(({ id }) => id));
  return (id) => made.has(id);
}
