import type { NextFunction, Request, Response } from 'express';

/** Cross-origin access for the listed origins only; off when the list is empty. Never `*`, never credentials. */
export function cors(origins: readonly string[]) {
  const allowed = new Set(origins);
  return (request: Request, response: Response, next: NextFunction): void => {
    const { origin } = request.headers;
    const known = origin !== undefined && allowed.has(origin);
    if (allowed.size > 0) response.vary('Origin');
    if (known) response.set('Access-Control-Allow-Origin', origin);
    if (request.method === 'OPTIONS' && request.headers['access-control-request-method'] !== undefined) {
      if (known) {
        response.set('Access-Control-Allow-Methods', 'GET, POST, OPTIONS');
        response.set('Access-Control-Allow-Headers', 'Authorization, Content-Type');
      }
      response.status(204).end();
      return;
    }
    next();
  };
}
