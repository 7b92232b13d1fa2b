import type { NextFunction, Request, RequestHandler, Response } from 'express';
import helmet from 'helmet';
import type { Config } from '../config.js';

type HeaderConfig = Pick<Config, 'frameAncestors' | 'mode'>;

/**
 * Headers of every answer: nothing of it is run, framed, guessed at or kept. Whoever publishes what is no secret says
 * so on its own answer.
 */
export function apiHeaders(config: HeaderConfig): readonly RequestHandler[] {
  return [withPolicy(config, {}), neverStored];
}

/** Headers of the printable pages: their own stylesheet and nothing else, framed only by the pages that are listed. */
export function pageHeaders(config: HeaderConfig): RequestHandler {
  return withPolicy(config, { 'style-src': ["'self'"] });
}

function neverStored(_request: Request, response: Response, next: NextFunction): void {
  response.set('Cache-Control', 'no-store');
  next();
}

function withPolicy(
  { frameAncestors, mode }: HeaderConfig,
  sources: Readonly<Record<string, readonly string[]>>,
): RequestHandler {
  const ancestors = frameAncestors.length === 0 ? ["'none'"] : [...frameAncestors];
  return helmet({
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        'default-src': ["'none'"],
        'base-uri': ["'none'"],
        'form-action': ["'none'"],
        'frame-ancestors': ancestors,
        ...sources,
      },
    },
    referrerPolicy: { policy: 'no-referrer' },
    // The older header knows no list of origins; where there is one, `frame-ancestors` alone decides.
    xFrameOptions: frameAncestors.length === 0 ? { action: 'deny' } : false,
    // Said only where TLS is known to be in front: a development service over http must not be locked out of a browser.
    strictTransportSecurity:
      mode === 'production' ? { maxAge: 365 * 24 * 60 * 60, includeSubDomains: false } : false,
  });
}
