import type { Request, Response } from 'express';
import { advise, openingOnce } from '../advice/index.js';
import type { Advice, AdviceInput, OpenRecord, Service } from '../advice/index.js';
import { lazy } from '../base/lazy.js';
import { issue } from '../base/result.js';
import type { ServiceParts } from './app.js';
import { callerOf } from './auth/caller.js';
import type { Caller } from './auth/caller.js';
import { contentOf } from './decision-content.js';
import { decisionOf } from './decision-of.js';
import { answerAndKeep } from './decision-record.js';
import { gather } from './gather.js';
import { readHookRequest, whoseIds } from './hook-request.js';
import type { HookRequest } from './hook-request.js';
import type { Installation } from './installation.js';
import { governedBy, listedServices } from './listed-services.js';
import { arrivedAt, withRequestLog } from './operations/arrival.js';
import type { Metrics } from './operations/metrics.js';
import { newStopwatch } from './operations/stopwatch.js';
import type { Stopwatch } from './operations/stopwatch.js';
import { bodyAsSent } from './json-body.js';
import { answerProblem } from './problems.js';
import { locationOf } from './served-at.js';
import { failureOf } from './store-failure.js';

/** One call as it was understood: what it asks, who asks, and the knowledge it is answered from. */
export interface Asked {
  readonly call: HookRequest;
  readonly caller: Caller;
  readonly service: Service;
  readonly installation: Installation;
}

/** Answers one CDS Hooks call: read the request, read what is missing, ask for advice, send the cards, keep a record. */
export function answerCall(running: ServiceParts) {
  return async (request: Request, response: Response): Promise<void> => {
    const parts = withRequestLog(running, response);
    const started = arrivedAt(response);
    const watch = newStopwatch(started);
    const installation = parts.installation();
    const service = serviceOf(request, parts, installation);
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
    const asked = {
      call: call.value,
      caller: callerOf(response),
      service,
      installation,
    };
    watch.lap('read');
    const open = openingOnce();
    const completed = await complete(asked, parts, open);
    watch.lap('fetch');
    const { advice, input } = await advised(completed, asked, parts, open);
    watch.lap('advise');
    const leniencies = leniencesOf(asked.call, advice);
    const basics = { service: service.id, hook: service.hook, leniencies };
    // Written as the answer leaves: keeping the record may take longer than whoever reads the log waits.
    const log = lazy(() => {
      const { statusCode: status } = response;
      logCall(parts, { ...basics, status }, advice, started);
      parts.metrics.call({ service: service.id, hook: service.hook, status, watch });
      parts.metrics.answer(service.hook, advice, leniencies);
      return true;
    });
    const sent = bodyAsSent(request);
    const kept = answer(response, advice, { input, asked, sent, onSent: log }, parts);
    const { shadow } = parts;
    const body = shadow && sent;
    const isCompleted = input.context !== call.value.context;
    const offer =
      body && ((decision: string) => shadow.offer({ decision, body, input, isCompleted, advice }));
    // While its record waits for the disk, a call that was answered takes no more memory than it must.
    request.body = undefined;
    return afterwards(kept, { log, offer, watch, hook: service.hook, metrics: parts.metrics });
  };
}

/** What is left to do once the record is kept, or is not. */
interface Left {
  readonly log: () => void;
  readonly offer: ((decision: string) => void) | undefined;
  readonly watch: Stopwatch;
  readonly hook: string;
  readonly metrics: Metrics;
}

async function afterwards(kept: Promise<string | undefined>, left: Left): Promise<void> {
  const decision = await kept;
  left.log();
  left.metrics.phase(left.hook, 'store', left.watch.lap('store'));
  if (decision !== undefined) left.offer?.(decision);
}

/** One id may stand for several hooks: the call says which it is. */
function serviceOf(
  request: Request,
  { config }: ServiceParts,
  installation: Installation,
): Service | undefined {
  const id = String(request.params['id']);
  const services = listedServices(governedBy(installation, config), config)
    .map(({ service }) => service)
    .filter((candidate) => candidate.id === id);
  return services.find(({ hook }) => hook === hookOf(request.body)) ?? services[0];
}

function hookOf(body: unknown): unknown {
  return typeof body === 'object' && body !== null && 'hook' in body ? body.hook : undefined;
}

/** The call with the sets that only the record system could give. */
async function complete(asked: Asked, parts: ServiceParts, open: OpenRecord): Promise<AdviceInput> {
  const { site, advisor } = asked.installation;
  const input: AdviceInput = { ...adviceInput(asked, parts), ...(site && { site }) };
  const { fhirServer, access } = asked.call;
  const session =
    fhirServer !== undefined && access
      ? parts.recordReader.open({ fhirServer, ...access, among: asked.caller.fhirServers })
      : undefined;
  return await gather(input, session, { rulebook: advisor.rulebook, open });
}

/** Only an answer with cards has any to keep quiet: most calls need not ask what was acknowledged before. */
async function advised(
  input: AdviceInput,
  asked: Asked,
  parts: ServiceParts,
  open: OpenRecord,
): Promise<{ readonly advice: Advice; readonly input: AdviceInput }> {
  const { advisor } = asked.installation;
  const advice = await advise(input, advisor, open);
  if (advice.kind !== 'answer' || advice.cards.length === 0) return { advice, input };
  const acknowledged = await acknowledgedBy(asked, parts);
  if (acknowledged.size === 0) return { advice, input };
  const whole = { ...input, acknowledged };
  return { advice: advice.answeredBy?.(acknowledged) ?? advice, input: whole };
}

/** A store that cannot be asked repeats a card at worst; that is no reason to say nothing. */
async function acknowledgedBy({ call, caller }: Asked, parts: ServiceParts): Promise<ReadonlySet<string>> {
  try {
    const { patient } = whoseIds(call, caller.iss);
    return new Set(await parts.store.acknowledgedBy(parts.pseudonyms.patient(patient)));
  } catch (error) {
    parts.log.error(failureOf(error), 'acknowledgements could not be read');
    return new Set();
  }
}

function adviceInput({ call, caller, service }: Asked, parts: ServiceParts): AdviceInput {
  const { hookInstance, patientId, userId, context, prefetch, fhirServer } = call;
  return {
    service,
    hookInstance,
    patientId,
    userId,
    context,
    prefetch,
    ...(fhirServer !== undefined && { fhirServer }),
    iss: caller.iss,
    now: parts.now().toISOString(),
    engine: parts.engineVersion,
    mode: parts.config.mode,
    nameSecret: parts.pseudonyms.secret,
    ...locationOf(parts),
  };
}

/** Answers, and resolves with the id of the decision where one is kept. */
async function answer(
  response: Response,
  advice: Advice,
  answered: {
    readonly input: AdviceInput;
    readonly asked: Asked;
    readonly sent: Uint8Array | undefined;
    readonly onSent: () => void;
  },
  parts: ServiceParts,
): Promise<string | undefined> {
  if (advice.kind !== 'answer') {
    answerProblem(response, advice.issues);
    return undefined;
  }
  const send = (): void => {
    const text = Buffer.from(JSON.stringify({ cards: advice.cards }));
    response.setHeader('Content-Type', 'application/json; charset=utf-8');
    response.setHeader('Content-Length', text.length);
    response.end(text);
    answered.onSent();
  };
  // What a patient or relative asked is not kept: there was no advice.
  if (!advice.layUser)
    return answerAndKeep(
      response,
      {
        send,
        record: () => decisionOf(advice, answered, parts),
        content: () => contentOf(advice, answered.input, answered.sent),
      },
      parts,
    );
  send();
  return undefined;
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
      ...(advice.silent !== undefined && { silent: advice.silent }),
      ...(silenced.length > 0 && { silenced }),
      ...(advice.audience !== undefined && advice.audience !== 'anybody' && { audience: advice.audience }),
      ms,
    },
    'call',
  );
}
