import type { RequestHandler, Response } from 'express';
import { rateLimit } from 'express-rate-limit';
import { issue } from '../../base/result.js';
import { callerOf } from '../auth/caller.js';
import type { Config } from '../config.js';
import { answerProblem } from '../problems.js';

const WINDOW_S = 60;

/**
 * So many calls a minute for each client and tenant. Addresses are not looked at: a hospital's calls all come from one.
 * Each instance counts for itself.
 */
export function limitCalls({ callsPerMinute }: Pick<Config, 'callsPerMinute'>): RequestHandler {
  const most = (response: Response): number => callerOf(response).limit?.callsPerMinute ?? callsPerMinute;
  return rateLimit({
    windowMs: WINDOW_S * 1000,
    limit: (_request, response) => most(response),
    skip: (_request, response) => most(response) === 0,
    keyGenerator: (_request, response) => callerOf(response).limit?.key ?? callerOf(response).iss,
    standardHeaders: false,
    legacyHeaders: false,
    handler: (_request, response) => {
      response.set('Retry-After', String(WINDOW_S));
      answerProblem(response, [
        issue('throttled', '', 'expected fewer calls of this client and tenant in one minute'),
      ]);
    },
  });
}
