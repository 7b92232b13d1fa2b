import { randomUUID } from 'node:crypto';
import type { RequestHandler, Response } from 'express';
import type { IssueCode } from '../../base/result.js';
import type { ServiceParts } from '../app.js';

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;

/**
 * The first to see a request: notes when it came, gives it an id by which the logs of both sides can be put together,
 * and counts the problem it ended in. An id the client sent is taken only in the form of a UUID: anything else could be
 * somebody's words.
 */
export function arrival({ metrics, lifecycle }: Pick<ServiceParts, 'metrics' | 'lifecycle'>): RequestHandler {
  return (request, response, next) => {
    response.locals['arrived'] = performance.now();
    const sent = request.headers['x-request-id'];
    const id = typeof sent === 'string' && UUID.test(sent) ? sent.toLowerCase() : randomUUID();
    response.locals['requestId'] = id;
    response.setHeader('X-Request-Id', id);
    // A connection that is kept would come back to a port that is closed.
    if (lifecycle.isStopping()) response.setHeader('Connection', 'close');
    response.once('finish', () => {
      const problem = response.locals['problem'] as IssueCode | undefined;
      if (problem !== undefined) metrics.problem(problem);
    });
    next();
  };
}

/** The moment of `performance.now()` at which this request came. */
export function arrivedAt(response: Response): number {
  return (response.locals['arrived'] as number | undefined) ?? performance.now();
}

/** The same parts with a log whose lines name this request. */
export function withRequestLog<Parts extends Pick<ServiceParts, 'log'>>(
  parts: Parts,
  response: Response,
): Parts {
  const request = response.locals['requestId'] as string | undefined;
  return request === undefined ? parts : { ...parts, log: parts.log.child({ request }) };
}
