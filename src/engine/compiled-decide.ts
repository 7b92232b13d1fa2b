import type { Condition, Rule } from '../rulebook/types.js';
import { addCondition, copyOf, emptyProgram, slotsOf, truthsOf } from './compiled-program.js';
import type { OpenProgram } from './compiled-program.js';
import { newTelling, stepNeeds, tell } from './compiled-telling.js';
import type { Telling } from './compiled-telling.js';
import { BROKEN, FALSE, TRUE, truthOf, UNKNOWN } from './compiled-truth.js';
import { explain, leafFromFacts } from './decide.js';
import type { BrokenDecision, Decide, Decision, FactMap, Verdict } from './decide.js';
import type { Outcome } from './evaluate.js';
import type { Explanation } from './explanation.js';
import type { Truth } from './truth.js';

/** What a rule's conditions say, or that they can't be evaluated. */
export type ConditionOutcome = Outcome | 'broken';

/** Rules compiled once, to be decided on many sets of facts. */
export interface CompiledDecide {
  readonly rules: readonly Rule[];
  /** What `jsonRulesDecide` gives, to the byte, at once instead of as a promise. */
  readonly decide: (facts: FactMap) => ReadonlyMap<string, Decision | BrokenDecision>;
  /** The same, each tree made when somebody asks for it. */
  readonly decideLazily: (facts: FactMap) => ReadonlyMap<string, Decision | BrokenDecision>;
  /**
   * The outcome of each rule's conditions, in the order of the rules, without making a tree. An evaluation may still
   * find a rule broken: when a computation it needs failed, or no finding fits what fired.
   */
  readonly outcomes: (facts: FactMap) => readonly ConditionOutcome[];
  /**
   * The same for another list of rules, such as one with a limit nudged, an operator flipped or a rule left out: only
   * rules that are not of this list are compiled. Best asked of the original each time, since steps that no rule asks
   * for any more stay in the program.
   */
  readonly withRules: (rules: readonly Rule[]) => CompiledDecide;
}

/** Compiles rules; `jsonRulesDecide` is the second opinion on what they decide. */
export function compileDecide(rules: readonly Rule[]): CompiledDecide {
  return compileOnto({ program: emptyProgram(), roots: new Map() }, rules);
}

/** The steps that decide a rule. */
interface Roots {
  readonly appliesWhen: number;
  readonly when: number;
}

interface Compiled {
  readonly program: OpenProgram;
  readonly roots: ReadonlyMap<Rule, Roots>;
}

function compileOnto(earlier: Compiled, rules: readonly Rule[]): CompiledDecide {
  const program = copyOf(earlier.program);
  const compiled = rules.map((rule) => ({ rule, ...(earlier.roots.get(rule) ?? rootsOf(rule, program)) }));
  return {
    rules,
    decide: (facts) => {
      const telling = newTelling(program, facts);
      return new Map(compiled.map((one) => [one.rule.id, decisionOf(one, telling)]));
    },
    decideLazily: (facts) => {
      const telling = newTelling(program, facts);
      const decisions = new Map<string, Decision | BrokenDecision>();
      for (const one of compiled) {
        const outcome = outcomeOf(one, telling.truths);
        // What is broken throws as its trees are made, and says why.
        const decision =
          outcome === 'broken' ? decisionOf(one, telling) : new LazyDecision(one, outcome, telling);
        decisions.set(one.rule.id, decision);
      }
      return decisions;
    },
    outcomes: (facts) => {
      const truths = truthsOf(program, slotsOf(program, facts));
      return compiled.map((one) => outcomeOf(one, truths));
    },
    withRules: (others) =>
      compileOnto({ program, roots: new Map(compiled.map((one) => [one.rule, one])) }, others),
  };
}

function rootsOf({ appliesWhen, when }: Rule, program: OpenProgram): Roots {
  return { appliesWhen: addCondition(appliesWhen, program), when: addCondition(when, program) };
}

function decisionOf({ appliesWhen, when }: Roots, telling: Telling): Decision | BrokenDecision {
  try {
    return { appliesWhen: tell(appliesWhen, telling), when: tell(when, telling) };
  } catch (error) {
    return { error };
  }
}

function outcomeOf({ appliesWhen, when }: Roots, truths: Uint8Array): ConditionOutcome {
  const [applies = BROKEN, fires = BROKEN] = [truths[appliesWhen], truths[when]];
  if ((applies | fires) & BROKEN) return 'broken';
  if (applies === FALSE) return 'not-applicable';
  if (applies === UNKNOWN || fires === UNKNOWN) return 'cannot-tell';
  return fires === TRUE ? 'fires' : 'does-not-fire';
}

/** Compiled rules as an evaluation takes them: the trees, which few ask for, are made when they are. */
export function asDecide({ decideLazily }: CompiledDecide): Decide {
  return (facts) => Promise.resolve(decideLazily(facts));
}

/** A decision known by the truths of its steps. */
class LazyDecision implements Decision {
  readonly verdict: Verdict;
  readonly #roots: Roots;
  readonly #telling: Telling;

  constructor(roots: Roots, outcome: Outcome, telling: Telling) {
    this.#roots = roots;
    this.#telling = telling;
    this.verdict = { outcome, needs: outcome === 'cannot-tell' ? this.#needs() : NO_NEEDS };
  }

  get appliesWhen(): Explanation {
    return tell(this.#roots.appliesWhen, this.#telling);
  }

  get when(): Explanation {
    return tell(this.#roots.when, this.#telling);
  }

  #needs(): readonly string[] {
    const { appliesWhen, when } = this.#roots;
    return stepNeeds(this.#telling.truths[appliesWhen] === UNKNOWN ? appliesWhen : when, this.#telling);
  }
}

const NO_NEEDS: readonly string[] = [];

/** One condition compiled, such as the `where` of a finding. */
export interface CompiledCondition {
  readonly truth: (facts: FactMap) => Truth;
  readonly explain: (facts: FactMap) => Explanation;
}

/** Gives and throws what `explain` does on facts read by `leafFromFacts`. */
export function compileCondition(condition: Condition): CompiledCondition {
  const program = emptyProgram();
  const root = addCondition(condition, program);
  const walk = (facts: FactMap): Explanation => explain(condition, leafFromFacts(facts));
  return {
    truth: (facts) => {
      const bit = truthsOf(program, slotsOf(program, facts))[root] ?? BROKEN;
      return bit === BROKEN ? walk(facts).truth : truthOf(bit);
    },
    explain: (facts) => {
      const telling = newTelling(program, facts);
      return telling.truths[root] === BROKEN ? walk(facts) : tell(root, telling);
    },
  };
}
