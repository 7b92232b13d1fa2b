import type { AdviceInput } from '../../advice/index.js';
import type { FactMap } from '../../engine/decide.js';
import type { Advisory, HipEvaluation } from '../../engine/evaluate.js';
import { runCase } from '../trial/run-case.js';
import type { TrialSetting } from '../trial/run-case.js';
import type { TrialCase } from '../trial/trial-case.js';
import { isKept, judge } from '../trial/verdict.js';

/** A case that is kept by the rules as they are, with all that its rules were decided on. */
export interface Observed {
  readonly trial: TrialCase;
  readonly input: AdviceInput;
  readonly hips: readonly ObservedHip[];
}

export interface ObservedHip {
  readonly hip: HipEvaluation;
  /** Facts and computations, as conditions ask about them. */
  readonly facts: FactMap;
  readonly advisories: ReadonlyMap<string, Advisory>;
}

export interface Observation {
  readonly observed: readonly Observed[];
  /** Cases the rules as they are do not keep: nothing they say can show that a change was noticed. */
  readonly failing: readonly string[];
}

/** Reads and judges every case once. Facts do not depend on thresholds, so mutants are decided on them again. */
export async function observe(
  cases: readonly TrialCase[],
  setting: TrialSetting,
  progress?: (done: number) => void,
): Promise<Observation> {
  const observed: Observed[] = [];
  const failing: string[] = [];
  let done = 0;
  for (const trial of cases) {
    const run = await runCase(trial, setting);
    if (run.input && run.answer && isKept(judge(run)))
      observed.push({ trial, input: run.input, hips: run.answer.hips.map(observedHip) });
    else failing.push(`${trial.name} at ${trial.hook}`);
    done += 1;
    progress?.(done);
  }
  return { observed, failing };
}

function observedHip(hip: HipEvaluation): ObservedHip {
  const computed = [...hip.computed.values()].map(({ fact }) => [fact.id, fact] as const);
  return {
    hip,
    facts: new Map([...hip.facts, ...computed]),
    advisories: new Map(hip.advisories.map((advisory) => [advisory.rule, advisory])),
  };
}
