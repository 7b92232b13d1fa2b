import type { Response } from 'express';
import { issue } from '../base/result.js';
import type { ContentToKeep } from '../store/decision-content.js';
import type { DecisionRecord } from '../store/store.js';
import type { ServiceParts } from './app.js';
import { answerProblem } from './problems.js';
import { failureOf } from './store-failure.js';

/** How an answer leaves, and the record of the decision behind it. */
export interface RecordedAnswer {
  readonly send: () => void;
  /** Written down only after the answer has left, unless the record is required. */
  readonly record: () => DecisionRecord;
  /** What it was made from, to be kept sealed for a while. */
  readonly content: () => ContentToKeep | undefined;
}

/**
 * Sends an answer and keeps its record. With `best-effort` the answer leaves at once, and a failure to keep the record
 * is logged; with `required` the answer waits for the durable commit, and fails with 503 when there is none. Resolves
 * with the id of the record, undefined where none is kept.
 */
export function answerAndKeep(
  response: Response,
  { send, ...decided }: RecordedAnswer,
  parts: KeepingParts,
): Promise<string | undefined> {
  return answerAndKeepAll(response, { send, decisions: [decided] }, parts).then(([kept]) => kept);
}

type KeepingParts = Pick<ServiceParts, 'config' | 'store' | 'log' | 'metrics' | 'admission'>;

/** The same for an answer behind which several decisions stand: none of it is sent that should be kept and is not. */
export async function answerAndKeepAll(
  response: Response,
  {
    send,
    decisions,
  }: { readonly send: () => void; readonly decisions: readonly Omit<RecordedAnswer, 'send'>[] },
  parts: KeepingParts,
): Promise<readonly (string | undefined)[]> {
  const keepAll = (): Promise<readonly (string | undefined)[]> =>
    Promise.all(decisions.map((decided) => keepRecord(decided, parts)));
  if (parts.config.audit === 'best-effort') {
    send();
    if (parts.admission.isBehind()) {
      parts.log.error('decision not kept: too many wait to be kept');
      parts.metrics.notStored('decision');
      return [];
    }
    // In the same turn, so that a service that is stopping still waits for the record; and not awaited here, where the
    // whole call would be held in memory until the disk has its record.
    return keepAll();
  }
  const kept = await keepAll();
  if (kept.every((id) => id !== undefined)) send();
  else
    answerProblem(response, [issue('not-stored', '', 'expected to keep a record of the answer, could not')]);
  return kept;
}

/** The id of the record once it is durable; a failure is logged, and never thrown at a call that was answered. */
function keepRecord(
  { record, content }: Omit<RecordedAnswer, 'send'>,
  { store, log, metrics }: Pick<ServiceParts, 'store' | 'log' | 'metrics'>,
): Promise<string | undefined> {
  const failed = (error: unknown): undefined => {
    log.error(failureOf(error), 'decision could not be kept');
    metrics.notStored('decision');
  };
  try {
    const decision = record();
    const { id } = decision;
    return store.saveDecision(decision, content()).then(() => id, failed);
  } catch (error) {
    failed(error);
    return Promise.resolve(undefined);
  }
}
