import type { Request, Response } from 'express';
import { advise, publishedServices } from '../advice/index.js';
import type { Advice, AdviceInput } from '../advice/index.js';
import { issue } from '../base/result.js';
import type { ServiceParts } from './app.js';
import { readHookRequest } from './hook-request.js';
import type { HookRequest } from './hook-request.js';
import { answerProblem } from './problems.js';

/** Answers one CDS Hooks call: read the request, ask for advice, send the cards. */
export function answerCall(parts: ServiceParts) {
  return async (request: Request, response: Response): Promise<void> => {
    const started = performance.now();
    const id = String(request.params['id']);
    const services = publishedServices(parts.config.distinctIds).filter((candidate) => candidate.id === id);
    const service = services.find(({ hook }) => hook === hookOf(request.body)) ?? services[0];
    if (!service) {
      answerProblem(response, [
        issue('unknown-service', '', 'expected an id of the discovery document, found another'),
      ]);
      return;
    }
    const call = readHookRequest(request.body, service, parts.config.strict);
    if (!call.ok) {
      answerProblem(response, call.issues);
      return;
    }
    const advice = await advise(adviceInput(call.value, service, parts), parts.advisor);
    if (advice.kind === 'answer') {
      response.setHeader('Content-Type', 'application/json; charset=utf-8');
      response.end(JSON.stringify({ cards: advice.cards }));
    } else answerProblem(response, advice.issues);
    logCall(
      parts,
      {
        service: service.id,
        hook: service.hook,
        status: response.statusCode,
        leniencies: call.value.leniencies,
      },
      advice,
      started,
    );
  };
}

/** One id may stand for several hooks: the call says which it is. */
function hookOf(body: unknown): unknown {
  return typeof body === 'object' && body !== null && 'hook' in body ? body.hook : undefined;
}

function adviceInput(call: HookRequest, service: AdviceInput['service'], parts: ServiceParts): AdviceInput {
  const { hookInstance, patientId, userId, context, prefetch, fhirServer } = call;
  return {
    service,
    hookInstance,
    patientId,
    userId,
    context,
    prefetch,
    ...(fhirServer !== undefined && { fhirServer }),
    iss: '-',
    now: parts.now().toISOString(),
    engine: parts.engineVersion,
  };
}

/** One line a call, without anything about the patient: counts, outcomes of rules, and how long it took. */
function logCall(
  parts: ServiceParts,
  basics: Readonly<Record<string, unknown>>,
  advice: Advice,
  started: number,
): void {
  const ms = Math.round((performance.now() - started) * 100) / 100;
  if (advice.kind !== 'answer') {
    parts.log.info(
      { ...basics, outcome: advice.kind, issues: advice.issues.map(({ code }) => code), ms },
      'call',
    );
    return;
  }
  for (const { rule, error } of advice.faults) {
    parts.log.error(
      { rule, stack: error instanceof Error ? error.stack : undefined },
      'rule could not be evaluated',
    );
  }
  parts.log.info(
    {
      ...basics,
      recognised: advice.layUser ? 'non-professional user' : advice.record?.recognised,
      cards: advice.cards.map((card) => card.source.topic.code),
      ms,
    },
    'call',
  );
}
