import type { Request, Response } from 'express';
import { advise, publishedServices } from '../advice/index.js';
import type { Advice, AdviceInput } from '../advice/index.js';
import { lazy } from '../base/lazy.js';
import { issue } from '../base/result.js';
import type { ServiceParts } from './app.js';
import { decisionOf } from './decision-of.js';
import { answerAndKeep } from './decision-record.js';
import { gather } from './gather.js';
import { NOBODY, readHookRequest, whoseIds } from './hook-request.js';
import type { HookRequest } from './hook-request.js';
import { answerProblem } from './problems.js';
import { failureOf } from './store-failure.js';

/** Answers one CDS Hooks call: read the request, read what is missing, ask for advice, send the cards, keep a record. */
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
    const input = await completed(call.value, service, parts);
    const advice = await advised(input, call.value, parts);
    const leniencies = leniencesOf(call.value, advice);
    const basics = { service: service.id, hook: service.hook, leniencies };
    // Written as the answer leaves: keeping the record may take longer than whoever reads the log waits.
    const log = lazy(() => {
      logCall(parts, { ...basics, status: response.statusCode }, advice, started);
      return true;
    });
    await answer(response, advice, { input, call: call.value, sent: log }, parts);
    log();
  };
}

/** One id may stand for several hooks: the call says which it is. */
function hookOf(body: unknown): unknown {
  return typeof body === 'object' && body !== null && 'hook' in body ? body.hook : undefined;
}

/** The call with the sets that only the record system could give. */
async function completed(
  call: HookRequest,
  service: AdviceInput['service'],
  parts: ServiceParts,
): Promise<AdviceInput> {
  const input: AdviceInput = {
    ...adviceInput(call, service, parts),
    ...(parts.site && { site: parts.site }),
  };
  const { fhirServer, access } = call;
  const session =
    fhirServer !== undefined && access ? parts.recordReader.open({ fhirServer, ...access }) : undefined;
  return await gather(input, session, parts.advisor.rulebook);
}

/** Only an answer with cards has any to keep quiet: most calls need not ask what was acknowledged before. */
async function advised(input: AdviceInput, call: HookRequest, parts: ServiceParts): Promise<Advice> {
  const advice = await advise(input, parts.advisor);
  if (advice.kind !== 'answer' || advice.cards.length === 0) return advice;
  const acknowledged = await acknowledgedBy(call, parts);
  return acknowledged.size === 0 ? advice : await advise({ ...input, acknowledged }, parts.advisor);
}

/** A store that cannot be asked repeats a card at worst; that is no reason to say nothing. */
async function acknowledgedBy(call: HookRequest, parts: ServiceParts): Promise<ReadonlySet<string>> {
  try {
    return new Set(await parts.store.acknowledgedBy(parts.pseudonyms.patient(whoseIds(call).patient)));
  } catch (error) {
    parts.log.error(failureOf(error), 'acknowledgements could not be read');
    return new Set();
  }
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
    iss: NOBODY,
    now: parts.now().toISOString(),
    engine: parts.engineVersion,
  };
}

async function answer(
  response: Response,
  advice: Advice,
  asked: { readonly input: AdviceInput; readonly call: HookRequest; readonly sent: () => void },
  parts: ServiceParts,
): Promise<void> {
  if (advice.kind !== 'answer') {
    answerProblem(response, advice.issues);
    return;
  }
  const send = (): void => {
    response.setHeader('Content-Type', 'application/json; charset=utf-8');
    response.end(JSON.stringify({ cards: advice.cards }));
    asked.sent();
  };
  // What a patient or relative asked is not kept: there was no advice.
  if (advice.layUser) send();
  else await answerAndKeep(response, { send, record: () => decisionOf(advice, asked, parts) }, parts);
}

function leniencesOf(call: HookRequest, advice: Advice): readonly string[] {
  const read = advice.kind === 'answer' ? (advice.record?.leniencies ?? []) : [];
  return [...call.leniencies, ...read];
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
  const silenced = advice.record?.silenced.map(({ why }) => why) ?? [];
  parts.log.info(
    {
      ...basics,
      recognised: advice.layUser ? 'non-professional user' : advice.record?.recognised,
      cards: advice.cards.map((card) => card.source.topic.code),
      ...(silenced.length > 0 && { silenced }),
      ...(advice.audience !== undefined && advice.audience !== 'anybody' && { audience: advice.audience }),
      ms,
    },
    'call',
  );
}
