import { advise } from './index.js';
import type { Advice, AdviceInput, Advisor, Hook } from './index.js';

type Answer = Extract<Advice, { kind: 'answer' }>;

/** What one hook answered about a hip operation. */
export interface HookAnswer {
  readonly hook: Hook;
  readonly input: AdviceInput;
  readonly answer: Answer & Required<Pick<Answer, 'evaluation' | 'evaluationId' | 'record'>>;
}

/** What all hooks asked answered, and why some did not. */
export interface PatientEvaluation {
  readonly answers: readonly HookAnswer[];
  /** Hooks with a call that was not about a hip replacement. */
  readonly silent: readonly Hook[];
  /** Hooks that could not be answered, and why. */
  readonly refused: readonly { readonly hook: Hook; readonly why: string }[];
}

/** Asks for advice at each hook; the same advise() that the service calls. */
export async function evaluatePatient(
  inputs: readonly AdviceInput[],
  advisor: Advisor,
): Promise<PatientEvaluation> {
  const answers: HookAnswer[] = [];
  const silent: Hook[] = [];
  const refused: { readonly hook: Hook; readonly why: string }[] = [];
  for (const input of inputs) {
    const { hook } = input.service;
    const answer = await advise(input, advisor);
    if (answer.kind !== 'answer') {
      refused.push({ hook, why: answer.issues.map(({ message }) => message).join('; ') });
      continue;
    }
    if (answer.off) {
      refused.push({ hook, why: 'this site has turned the service off' });
      continue;
    }
    const { evaluation, evaluationId, record } = answer;
    if (evaluation && evaluationId && record)
      answers.push({ hook, input, answer: { ...answer, evaluation, evaluationId, record } });
    else silent.push(hook);
  }
  return { answers, silent, refused };
}
