import type { NextFunction, Request, RequestHandler, Response } from 'express';
import { issue } from '../base/result.js';
import { answerProblem } from './problems.js';

/** Asked by whoever runs the process, who does not come through the proxy. */
const WITHOUT_PREFIX: ReadonlySet<string> = new Set(['/health', '/ready']);

/**
 * Serves everything below the path of the public URL, as a proxy passes it on unchanged: what the service is called in
 * a client's token is then what it is asked for. Health is also answered without the path.
 */
export function belowPath(publicUrl: string | undefined): RequestHandler {
  const prefix = publicUrl === undefined ? '' : new URL(publicUrl).pathname.replace(/\/$/, '');
  return (request: Request, response: Response, next: NextFunction): void => {
    const { url } = request;
    const rest = url.slice(prefix.length);
    if (prefix === '') next();
    else if (url.startsWith(prefix) && /^[/?]|^$/.test(rest)) {
      request.url = rest.startsWith('/') ? rest : `/${rest}`;
      next();
    } else if (WITHOUT_PREFIX.has(url)) next();
    else answerProblem(response, [issue('unknown-path', '', 'expected a path of this service, found none')]);
  };
}
