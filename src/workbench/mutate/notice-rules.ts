import type { Advisor } from '../../advice/index.js';
import { asDecide, compileDecide } from '../../engine/compiled-decide.js';
import type { CompiledDecide } from '../../engine/compiled-decide.js';
import type { Outcome } from '../../engine/evaluate.js';
import { constantGroups } from '../../rulebook/constant-groups.js';
import type { Finding, Rule } from '../../rulebook/types.js';
import { ask } from '../trial/run-case.js';
import type { OutcomeExpected } from '../trial/trial-case.js';
import { isKept, judge } from '../trial/verdict.js';
import type { RuleMutant } from './mutant.js';
import type { Observed, ObservedHip } from './observed.js';
import { isSame, signatureOf } from './rule-signature.js';
import type { Signature } from './rule-signature.js';

/** Said of a change that no rulebook with it could be loaded. */
export const BY_THE_LOADER = 'the loader: a group would be the same for every value';

/** A changed rule, made ready to be decided again and again. */
interface Changed {
  readonly id: string;
  readonly rule: Rule | undefined;
  readonly outcomes: CompiledDecide['outcomes'];
  readonly signature: Signature;
}

/** Finds the first case that a change of rules would break; only changed rules are decided anew. */
export class RuleNoticer {
  readonly #rules: ReadonlyMap<string, Rule>;
  readonly #signatures = new Map<string, Signature>();
  readonly #known = new WeakMap<ObservedHip, Map<string, readonly string[]>>();

  constructor(
    private readonly observed: readonly Observed[],
    private readonly advisor: Advisor,
  ) {
    this.#rules = new Map(advisor.rulebook.rules.map((rule) => [rule.id, rule]));
  }

  /** The name of the case that noticed; undefined when none did. */
  async noticedBy(mutant: RuleMutant): Promise<string | undefined> {
    const changed = [...mutant.changed].map(([id, rule]) => readyRule(id, rule));
    if (changed.some(({ rule }) => rule && isRefused(rule))) return BY_THE_LOADER;
    let advisor: Advisor | undefined;
    for (const one of this.#inOrder(mutant)) {
      const difference = this.#difference(one, changed);
      if (difference === 'none') continue;
      if (difference === 'outcome') return nameOf(one);
      advisor ??= changedAdvisor(this.advisor, mutant);
      const verdict = judge({ trial: one.trial, ...(await ask(one.input, advisor)) });
      if (!isKept(verdict)) return nameOf(one);
    }
    return undefined;
  }

  /** Those about a changed rule first: they are the likeliest to notice. */
  #inOrder({ changed }: RuleMutant): readonly Observed[] {
    const isAbout = ({ trial: { expects } }: Observed): boolean =>
      expects.kind === 'outcome' && changed.has(expects.rule);
    return [
      ...this.observed.filter(isAbout),
      ...this.observed.filter(({ trial: { expects } }) => expects.kind === 'cards'),
    ];
  }

  /** Whether the change may show in a case: in an outcome the case states, or in its cards, or not at all. */
  #difference({ trial, hips }: Observed, changed: readonly Changed[]): 'none' | 'maybe' | 'outcome' {
    const { expects, hook } = trial;
    if (expects.kind === 'facts') return 'none';
    if (expects.kind === 'cards') {
      // A card hangs on whether the rule fires, and names the rule and not its words.
      const speaking = changed.filter(({ id }) => this.#rules.get(id)?.entries.includes(hook));
      const shows = hips.some((hip) => speaking.some((rule) => this.#firesOtherwise(rule, hip)));
      return shows ? 'maybe' : 'none';
    }
    const meant = hips.filter((hip) => isMeant(expects, hip));
    const asked = changed.filter(({ id }) => id === expects.rule);
    const pairs = meant.flatMap((hip) => asked.map((rule) => [rule, hip] as const));
    if (pairs.some(([rule, hip]) => outcomeFor(rule, hip) !== hip.advisories.get(rule.id)?.outcome))
      return 'outcome';
    if (!hasWords(expects)) return 'none';
    return pairs.some(([rule, hip]) => this.#isOtherwiseTold(rule, hip)) ? 'maybe' : 'none';
  }

  #firesOtherwise(rule: Changed, hip: ObservedHip): boolean {
    const before = hip.advisories.get(rule.id);
    if ((outcomeFor(rule, hip) === 'fires') !== (before?.outcome === 'fires')) return true;
    // A rule that lost the finding it spoke with may have none left.
    return before?.fired !== undefined && hasLost(rule, before.fired.finding, this.#rules.get(rule.id));
  }

  #isOtherwiseTold({ id, rule, signature }: Changed, hip: ObservedHip): boolean {
    return rule !== undefined && !this.#isUnchanged(id, rule, signature, hip);
  }

  #isUnchanged(id: string, rule: Rule, signature: Signature, hip: ObservedHip): boolean {
    const base = this.#rules.get(id);
    const fired = hip.advisories.get(id)?.fired;
    if (base?.findings.length !== rule.findings.length)
      return fired === undefined || rule.findings.includes(fired.finding);
    return isSame(this.#before(id, hip), signature(hip.facts));
  }

  #before(id: string, hip: ObservedHip): readonly string[] {
    const known = this.#known.get(hip) ?? new Map<string, readonly string[]>();
    this.#known.set(hip, known);
    const before = known.get(id);
    if (before) return before;
    const signature = this.#signatureBefore(id)(hip.facts);
    known.set(id, signature);
    return signature;
  }

  #signatureBefore(id: string): Signature {
    const known = this.#signatures.get(id);
    if (known) return known;
    const rule = this.#rules.get(id);
    if (!rule) throw new TypeError(`no rule ${id}`);
    const signature = signatureOf(rule);
    this.#signatures.set(id, signature);
    return signature;
  }
}

/** Whether a finding was taken away from a changed rule. */
function hasLost({ rule }: Changed, finding: Finding, base: Rule | undefined): boolean {
  return rule?.findings.length !== base?.findings.length && rule?.findings.includes(finding) === false;
}

/** What a changed rule says of a hip; undefined when it is gone. */
function outcomeFor({ rule, outcomes }: Changed, { facts }: ObservedHip): Outcome | undefined {
  if (!rule) return undefined;
  const outcome = outcomes(facts)[0];
  return outcome === 'broken' ? 'cannot-tell' : outcome;
}

function nameOf({ trial: { name, hook } }: Observed): string {
  return `${name} at ${hook}`;
}

function isMeant({ hip, construct }: OutcomeExpected, { hip: found }: ObservedHip): boolean {
  return (hip ?? found.hip) === found.hip && (construct ?? found.construct) === found.construct;
}

function hasWords({ says, never, needs }: OutcomeExpected): boolean {
  return says.length + never.length + (needs?.length ?? 0) > 0;
}

function readyRule(id: string, rule: Rule | undefined): Changed {
  if (!rule) return { id, rule, outcomes: () => [], signature: () => [] };
  return { id, rule, outcomes: compileDecide([rule]).outcomes, signature: signatureOf(rule) };
}

function isRefused({ appliesWhen, when }: Rule): boolean {
  return constantGroups(appliesWhen).length + constantGroups(when).length > 0;
}

function changedAdvisor({ rulebook, computations }: Advisor, { changed }: RuleMutant): Advisor {
  const rules = rulebook.rules.flatMap((rule) => {
    const other = changed.has(rule.id) ? changed.get(rule.id) : rule;
    return other ? [other] : [];
  });
  return { rulebook: { ...rulebook, rules }, decide: asDecide(compileDecide(rules)), computations };
}
