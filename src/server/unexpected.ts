import type { ErrorRequestHandler, NextFunction, Request, Response } from 'express';
import type { Logger } from 'pino';
import type { Issue } from '../base/result.js';
import { issue } from '../base/result.js';
import { answerProblem } from './problems.js';

/** Answers what was thrown on the way to an answer. Express knows an error handler by its four parameters. */
export function answerError(log: Logger): ErrorRequestHandler {
  return (error: unknown, _request: Request, response: Response, next: NextFunction): void => {
    if (response.headersSent) {
      next(error);
      return;
    }
    const fault = requestFault(error);
    if (!fault)
      log.error({ err: { stack: error instanceof Error ? error.stack : undefined } }, 'unexpected error');
    answerProblem(response, [fault ?? issue('internal', '', 'the service failed; nothing was evaluated')]);
  };
}

/** What is wrong with the request; undefined when the fault is ours. */
function requestFault(error: unknown): Issue | undefined {
  const { type, status } = describeError(error);
  if (type === 'entity.too.large') return issue('too-large', '', 'expected a smaller body');
  if (type === 'entity.parse.failed' || type === 'entity.verify.failed')
    return issue('not-json', '', 'expected a JSON text nested no deeper than 100, found something else');
  if (status === 415)
    return issue('wrong-media-type', '', 'expected JSON in UTF-8, not compressed in an unknown way');
  if (status !== undefined && status >= 400 && status < 500)
    return issue('wrong-value', '', 'expected a readable request');
  return undefined;
}

function describeError(error: unknown): { readonly type?: string; readonly status?: number } {
  if (typeof error !== 'object' || error === null) return {};
  const type = 'type' in error && typeof error.type === 'string' ? error.type : undefined;
  const status = 'status' in error && typeof error.status === 'number' ? error.status : undefined;
  return { ...(type !== undefined && { type }), ...(status !== undefined && { status }) };
}
