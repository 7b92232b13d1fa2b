import type { Request, Response } from 'express';
import { advise } from '../../advice/index.js';
import type { Advice, AdviceInput, Advisor } from '../../advice/index.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { lazy } from '../../base/lazy.js';
import { evaluationBundle } from '../../render/fhir/evaluation-bundle.js';
import type { ServiceParts } from '../app.js';
import { callerOf } from '../auth/caller.js';
import { contentOf } from '../decision-content.js';
import { decisionOf } from '../decision-of.js';
import { answerAndKeepAll } from '../decision-record.js';
import type { RecordedAnswer } from '../decision-record.js';
import { bodyAsSent } from '../json-body.js';
import { arrivedAt, withRequestLog } from '../operations/arrival.js';
import { newStopwatch } from '../operations/stopwatch.js';
import type { Stopwatch } from '../operations/stopwatch.js';
import { answerProblem } from '../problems.js';
import { evaluateInputs } from './evaluate-inputs.js';
import type { EvaluateCall } from './evaluate-inputs.js';
import { readEvaluateRequest } from './evaluate-request.js';
import { EVALUATE_ID } from './evaluate-service.js';
import { remarkOf, tellsFor } from './evaluate-telling.js';
import { formatOf, sendJson } from './format.js';

/** What one occasion came to. */
interface Occasion {
  readonly input: AdviceInput;
  readonly advice: Advice;
}

/**
 * Answers `$evaluate`: read the request, read the record where a server is named, ask for advice at each occasion as the
 * services would, give back the evaluations, keep a record of each.
 */
export function answerEvaluate(running: ServiceParts) {
  return async (request: Request, response: Response): Promise<void> => {
    const format = formatOf(request, response);
    if (!format) return;
    const parts = withRequestLog(running, response);
    const watch = newStopwatch(arrivedAt(response));
    const asked = readEvaluateRequest(request.body, parts.config.mode);
    if (!asked.ok) {
      answerProblem(response, asked.issues);
      return;
    }
    const call: EvaluateCall = {
      asked: asked.value,
      caller: callerOf(response),
      installation: parts.installation(),
      body: bodyAsSent(request),
    };
    watch.lap('read');
    const inputs = await evaluateInputs(call, parts);
    watch.lap('fetch');
    if (!inputs.ok) {
      answerProblem(response, inputs.issues);
      return;
    }
    const occasions = await askAll(inputs.value, call.installation.advisor);
    watch.lap('advise');
    const refused = occasions.flatMap(({ advice }) => (advice.kind === 'refused' ? advice.issues : []));
    if (refused.length > 0) {
      answerProblem(response, refused);
      return;
    }
    const text = JSON.stringify(bundleOf(occasions, call));
    // Told as the answer leaves: keeping the records may take longer.
    const told = lazy(() => {
      tellOperator(occasions, { status: response.statusCode, watch }, parts);
      return true;
    });
    const send = (): void => {
      sendJson(response, format, text);
      told();
    };
    const decisions = decisionsOf(occasions, call, parts);
    await answerAndKeepAll(response, { send, decisions }, parts);
    told();
    parts.metrics.phase(EVALUATE_ID, 'store', watch.lap('store'));
  };
}

async function askAll(inputs: readonly AdviceInput[], advisor: Advisor): Promise<readonly Occasion[]> {
  const occasions: Occasion[] = [];
  for (const input of inputs) occasions.push({ input, advice: await advise(input, advisor) });
  return occasions;
}

function bundleOf(occasions: readonly Occasion[], { asked, installation }: EvaluateCall): object {
  const { rulebook } = installation.advisor;
  const answers = occasions.flatMap(toldAnswer);
  const remarks = occasions.flatMap(({ input, advice }) => remarkOf(input.service.hook, advice));
  const nothing =
    answers.length === 0 && remarks.length === 0
      ? [
          'No hip replacement was recognised, planned or in place: nothing was evaluated. That is no clearance.',
        ]
      : [];
  const [first] = occasions;
  return evaluationBundle(answers, {
    rulebook,
    ...(first && { now: first.input.now }),
    tells: (answer) => tellsFor(answer, asked, rulebook),
    remarks: [...remarks, ...nothing],
  });
}

/** An answer that evaluated a hip and may speak. */
function toldAnswer({ input, advice }: Occasion): readonly HookAnswer[] {
  if (advice.kind !== 'answer' || advice.silent !== undefined) return [];
  const { evaluation, evaluationId, record } = advice;
  if (!evaluation || !evaluationId || !record) return [];
  return [{ hook: input.service.hook, input, answer: { ...advice, evaluation, evaluationId, record } }];
}

/** Each occasion is a decision of its own, kept as a call would be. */
function decisionsOf(
  occasions: readonly Occasion[],
  { caller, installation }: EvaluateCall,
  parts: ServiceParts,
): readonly Omit<RecordedAnswer, 'send'>[] {
  return occasions.flatMap(({ input, advice }) => {
    if (advice.kind !== 'answer' || advice.layUser) return [];
    const { service, hookInstance, patientId, userId, context, prefetch, fhirServer } = input;
    const { hook } = service;
    const call = { hook, hookInstance, patientId, userId, context, prefetch, leniencies: [] };
    const asked = {
      call: { ...call, ...(fhirServer !== undefined && { fhirServer }) },
      caller,
      service,
      installation,
    };
    return [
      {
        record: () => decisionOf(advice, { input, asked }, parts),
        content: () => contentOf(advice, input),
      },
    ];
  });
}

function tellOperator(
  occasions: readonly Occasion[],
  { status, watch }: { readonly status: number; readonly watch: Stopwatch },
  { log, metrics }: ServiceParts,
): void {
  const seconds = watch.seconds();
  metrics.call({ service: EVALUATE_ID, hook: EVALUATE_ID, status, watch });
  for (const { input, advice } of occasions) {
    metrics.answer(input.service.hook, advice, []);
    if (advice.kind !== 'answer') continue;
    for (const { rule, error } of advice.faults)
      log.error(
        { rule, stack: error instanceof Error ? error.stack : undefined },
        'rule could not be evaluated',
      );
  }
  const asked = occasions.map(({ input, advice }) => ({
    hook: input.service.hook,
    outcome: advice.kind,
    ...(advice.kind === 'answer' && { recognised: advice.record?.recognised, silent: advice.silent }),
  }));
  log.info({ service: EVALUATE_ID, status, asked, ms: Math.round(seconds * 1e5) / 100 }, 'evaluate');
}
