import type { RequestHandler } from 'express';
import type { Config } from '../config.js';
import { newAllowance } from './allowance.js';
import type { AsyncHandler } from './allowance.js';
import type { Metrics } from './metrics.js';
import { newLine } from './line.js';

/**
 * Turns calls away when more come than can be answered in time, so that those let in are: when too many wait for an
 * answer, or when another would wait too long for its turn, as far as the first in the line has waited and the latest
 * turns took. Feedback has an allowance of its own, and what is only read has none: neither waits for calls, nor takes
 * their place.
 */
export interface Admission {
  readonly admit: RequestHandler;
  /** The handlers of what was admitted. */
  readonly call: (handler: AsyncHandler) => AsyncHandler;
  readonly feedback: (handler: AsyncHandler) => AsyncHandler;
  /** Whether more answered calls wait for their records to be kept than may pile up in memory. */
  readonly isBehind: () => boolean;
  /** Everything worked on, what comes after an answer included. */
  readonly inProgress: () => number;
}

/** A database that stands still for some seconds must not make the service run out of memory. */
const MOST_UNFINISHED = 1000;

export function newAdmission(
  { mostAtOnce, busyMs }: Pick<Config, 'mostAtOnce' | 'busyMs'>,
  metrics: Metrics,
): Admission {
  const line = newLine(busyMs);
  const calls = newAllowance({
    isFull: (unanswered) =>
      unanswered >= mostAtOnce || Math.max(line.waitedMs(), calls.waiting() * line.turnMs()) > busyMs,
    onTurnedAway: () => metrics.turnedAway('call'),
    turn: line.turn,
  });
  const feedback = newAllowance({
    isFull: (unanswered) => unanswered >= mostAtOnce,
    onTurnedAway: () => metrics.turnedAway('feedback'),
  });
  const { gauge } = metrics;
  gauge('calls_unanswered', 'Calls that wait for their answer', calls.unanswered);
  gauge(
    'calls_unfinished',
    'Calls worked on, those whose records are still to be kept included',
    calls.unfinished,
  );
  gauge('feedback_unanswered', 'Feedback requests that wait for their answer', feedback.unanswered);
  return {
    admit: (request, response, next) => {
      if (request.method !== 'POST') next();
      else if (request.path.endsWith('/feedback')) feedback.admit(request, response, next);
      else calls.admit(request, response, next);
    },
    call: calls.working,
    feedback: feedback.working,
    isBehind: () => calls.unfinished() >= MOST_UNFINISHED,
    inProgress: () => calls.unfinished() + feedback.unfinished(),
  };
}
