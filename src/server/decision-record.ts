import type { Response } from 'express';
import { issue } from '../base/result.js';
import type { DecisionRecord } from '../store/store.js';
import type { ServiceParts } from './app.js';
import { answerProblem } from './problems.js';
import { failureOf } from './store-failure.js';

/** How an answer leaves, and the record of the decision behind it. */
export interface RecordedAnswer {
  readonly send: () => void;
  /** Written down only after the answer has left, unless the record is required. */
  readonly record: () => DecisionRecord;
}

/**
 * Sends an answer and keeps its record. With `best-effort` the answer leaves at once, and a failure to keep the record
 * is logged; with `required` the answer waits for the durable commit, and fails with 503 when there is none.
 */
export async function answerAndKeep(
  response: Response,
  { send, record }: RecordedAnswer,
  parts: Pick<ServiceParts, 'config' | 'store' | 'log'>,
): Promise<void> {
  if (parts.config.audit === 'best-effort') {
    send();
    // In the same turn, so that a service that is stopping still waits for the record.
    await keepRecord(record, parts);
    return;
  }
  if (await keepRecord(record, parts)) send();
  else
    answerProblem(response, [issue('not-stored', '', 'expected to keep a record of the answer, could not')]);
}

/** Whether the record is durable; a failure is logged, and never thrown at a call that was answered. */
async function keepRecord(
  record: () => DecisionRecord,
  { store, log }: Pick<ServiceParts, 'store' | 'log'>,
): Promise<boolean> {
  try {
    await store.saveDecision(record());
    return true;
  } catch (error) {
    log.error(failureOf(error), 'decision could not be kept');
    return false;
  }
}
