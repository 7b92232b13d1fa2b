import type { BrokenDecision, Decide, Decision, FactMap } from '../engine/decide.js';
import { evaluate } from '../engine/evaluate.js';
import { jsonRulesDecide } from '../engine/json-rules-decide.js';
import type { Rulebook } from '../rulebook/types.js';
import { openRecord } from './advise.js';
import type { AdviceInput, Advisor } from './advise.js';
import { localAdvisor } from './local-advisor.js';

/** What came of deciding calls twice. */
export interface Agreement {
  /** True only where something was decided, and all of it alike. */
  readonly agrees: boolean;
  /** Hips and constructs on which every rule was decided twice. */
  readonly hips: number;
  /** The rules that were decided differently, sorted. */
  readonly differing: readonly string[];
}

/**
 * Decides every rule on every hip of these calls a second time, by json-rules-engine, which shares no evaluating code
 * with the compiled rules that answer calls. A service whose two evaluators differ by one byte must not answer.
 */
export async function agreesWithReference(
  advisor: Advisor,
  calls: readonly AdviceInput[],
): Promise<Agreement> {
  const differing = new Set<string>();
  let hips = 0;
  for (const call of calls) {
    const opened = openRecord(call, advisor.rulebook);
    if (opened.kind !== 'record') continue;
    const { hook } = call.service;
    const local = localAdvisor(advisor, { site: call.site, hook, now: call.now });
    const reference = referenceFor(local.rulebook);
    const decide = async (facts: FactMap): ReturnType<Decide> => {
      const [own, other] = [await local.decide(facts), await reference(facts)];
      for (const { id } of local.rulebook.rules) if (!isAlike(own.get(id), other.get(id))) differing.add(id);
      hips += 1;
      return own;
    };
    await evaluate({ ...local, decide, record: opened.record, entry: hook });
  }
  return { agrees: hips > 0 && differing.size === 0, hips, differing: [...differing].sort() };
}

/** A service asks again and again: the engine is set up once for a rulebook. */
const references = new WeakMap<Rulebook, Decide>();

function referenceFor(rulebook: Rulebook): Decide {
  const known = references.get(rulebook);
  if (known) return known;
  const made = jsonRulesDecide(rulebook.rules);
  references.set(rulebook, made);
  return made;
}

type Made = Decision | BrokenDecision | undefined;

/** The same trees to the byte; a rule that one of them could not decide is no rule to answer with. */
function isAlike(own: Made, other: Made): boolean {
  if (!own || !other || 'error' in own || 'error' in other) return false;
  return treesOf(own) === treesOf(other);
}

function treesOf({ appliesWhen, when }: Decision): string {
  return JSON.stringify([appliesWhen, when]);
}
