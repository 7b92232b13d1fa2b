import type { Request, RequestHandler, Response } from 'express';
import { issue } from '../../base/result.js';
import { answerProblem } from '../problems.js';

/** A body that takes longer than this to arrive holds up others: a record system sends it in a few milliseconds. */
const BODY_WITHIN_MS = 5000;
const RETRY_AFTER_S = '1';

/** How many requests of one kind are worked on at once. */
export interface Allowance {
  /** Takes a request in, or turns it away with 503 before anything of its body is looked at. */
  readonly admit: RequestHandler;
  /** The handler of what was taken in: its work goes on being counted after the answer has left. */
  readonly working: (handler: AsyncHandler) => AsyncHandler;
  /** Requests that wait for their answer. */
  readonly unanswered: () => number;
  /** Those of them that nobody has begun to answer: their body is on its way, or they wait in line. */
  readonly waiting: () => number;
  /** Handlers that have not ended, such as those that still keep a record. */
  readonly unfinished: () => number;
}

export type AsyncHandler = (request: Request, response: Response) => Promise<void>;

export interface AllowanceSettings {
  /** Whether another request is too many beside so many that wait for their answer. */
  readonly isFull: (unanswered: number) => boolean;
  readonly onTurnedAway: () => void;
  /** Resolves when a handler may begin; where left out each begins at once. */
  readonly turn?: () => Promise<void>;
  readonly bodyWithinMs?: number;
}

export function newAllowance({
  isFull,
  onTurnedAway,
  turn,
  bodyWithinMs = BODY_WITHIN_MS,
}: AllowanceSettings): Allowance {
  /** Each with the timer of its body. */
  const unanswered = new Map<Response, NodeJS.Timeout>();
  const waiting = new Set<Response>();
  let unfinished = 0;
  return {
    admit: (_request, response, next) => {
      if (isFull(unanswered.size)) {
        onTurnedAway();
        response.setHeader('Retry-After', RETRY_AFTER_S);
        answerProblem(response, [issue('overloaded', '', 'too many calls at once; nothing was evaluated')]);
        return;
      }
      const timer = setTimeout(() => refuseSlow(response), bodyWithinMs);
      unanswered.set(response, timer);
      waiting.add(response);
      response.once('close', () => {
        clearTimeout(timer);
        unanswered.delete(response);
        waiting.delete(response);
      });
      next();
    },
    working: (handler) => async (request, response) => {
      clearTimeout(unanswered.get(response));
      unfinished += 1;
      try {
        await turn?.();
        waiting.delete(response);
        // Whoever has gone away in the meantime is answered nothing.
        if (!response.closed) await handler(request, response);
      } finally {
        unfinished -= 1;
      }
    },
    unanswered: () => unanswered.size,
    waiting: () => waiting.size,
    unfinished: () => unfinished,
  };
}

function refuseSlow(response: Response): void {
  if (response.headersSent) return;
  response.setHeader('Connection', 'close');
  answerProblem(response, [
    issue('too-slow', '', 'expected the body within a few seconds, found part of it'),
  ]);
}
