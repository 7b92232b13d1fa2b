import { advise } from '../../advice/index.js';
import type { Advice, AdviceInput, Advisor } from '../../advice/index.js';
import type { DataSet } from '../../fhir/bundle.js';
import type { Site } from '../../rulebook/site.js';
import { inputsFromBundle } from '../../advice/hook-inputs.js';
import type { TrialCase } from './trial-case.js';

export type Answer = Extract<Advice, { kind: 'answer' }>;

/** What a trial is made with. */
export interface TrialSetting {
  readonly advisor: Advisor;
  readonly engine: string;
  readonly site?: Site;
}

/** One case, and what the service answered; without an answer, why. */
export interface Run {
  readonly trial: TrialCase;
  readonly input?: AdviceInput;
  readonly answer?: Answer;
  readonly why?: string;
}

/** Asks for advice as the service would be asked; the same advise(). */
export async function runCase(trial: TrialCase, setting: TrialSetting): Promise<Run> {
  const input = inputOf(trial, setting);
  if (!input) return { trial, why: `the Bundle holds nothing to ask about at ${trial.hook}` };
  return { trial, input, ...(await ask(input, setting.advisor)) };
}

function inputOf(trial: TrialCase, { advisor, engine, site }: TrialSetting): AdviceInput | undefined {
  const { rulebook } = advisor;
  const setting = { rulebook, now: trial.now, engine, ...(site && { site }) };
  const [input] = inputsFromBundle(trial.bundle, [trial.hook], setting);
  return input && trial.unread ? withoutSets(input, trial.unread) : input;
}

/** The same call where these sets did not arrive, neither sent nor to be had by asking. */
function withoutSets(input: AdviceInput, unread: readonly string[]): AdviceInput {
  const { prefetch, fetched = new Map<string, DataSet>() } = input;
  for (const key of unread)
    if (!Object.hasOwn(prefetch, key) && !fetched.has(key))
      throw new Error(`unread: no set called ${key} is read at ${input.service.hook}`);
  return {
    ...input,
    prefetch: Object.fromEntries(Object.entries(prefetch).filter(([key]) => !unread.includes(key))),
    fetched: new Map([...fetched].filter(([key]) => !unread.includes(key))),
  };
}

/** The same call again, asked of another rulebook. */
export async function ask(input: AdviceInput, advisor: Advisor): Promise<Pick<Run, 'answer' | 'why'>> {
  const advice = await advise(input, advisor);
  if (advice.kind !== 'answer') return { why: advice.issues.map(({ message }) => message).join('; ') };
  const [broken] = [...advice.faults, ...(advice.pageOnly?.().faults ?? [])];
  if (broken) return { answer: advice, why: `${broken.rule} could not be evaluated` };
  return { answer: advice };
}
