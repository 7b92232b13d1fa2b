import express from 'express';
import type { NextFunction, Request, RequestHandler, Response } from 'express';
import { issue } from '../base/result.js';
import { isTooDeep } from './json-depth.js';
import { answerProblem } from './problems.js';

/** Reads a JSON body of one of these media types, in UTF-8, no larger than allowed and not nested without end. */
export function jsonBody(types: readonly string[], limitBytes: number): readonly RequestHandler[] {
  return [
    requireJson(types),
    cutOff(limitBytes),
    express.json({ limit: limitBytes, strict: false, verify: keepBytes, type: [...types] }),
  ];
}

/** How much of a body that is too large is read and thrown away, so that whoever sends it hears why it was refused. */
const READ_OFF = 2;

/** The reader of bodies waits for the end of one it has refused; of one that does not end nothing more is taken. */
function cutOff(limitBytes: number): RequestHandler {
  return (request: Request, response: Response, next: NextFunction): void => {
    let size = 0;
    request.on('data', (bytes: Buffer) => {
      size += bytes.length;
      if (size <= READ_OFF * limitBytes || response.headersSent) return;
      response.set('Connection', 'close');
      answerProblem(response, [issue('too-large', '', 'expected a smaller body')]);
    });
    next();
  };
}

function requireJson(types: readonly string[]): RequestHandler {
  return (request: Request, response: Response, next: NextFunction): void => {
    // JSON between systems is UTF-8 (RFC 8259, section 8.1); another encoding would also slip past the depth check.
    if (isJsonInUtf8(request.headers['content-type'] ?? '', types)) {
      next();
      return;
    }
    answerProblem(response, [
      issue('wrong-media-type', '', `expected Content-Type ${types.join(' or ')} in UTF-8`),
    ]);
  };
}

function isJsonInUtf8(contentType: string, types: readonly string[]): boolean {
  const [type = '', ...parameters] = contentType.toLowerCase().split(';');
  const charset = parameters.map((each) => each.trim()).find((each) => each.startsWith('charset='));
  return types.includes(type.trim()) && (charset === undefined || /^charset="?utf-?8"?$/.test(charset));
}

class TooDeep extends Error {}

function keepBytes(request: object, _response: unknown, bytes: Buffer): void {
  if (isTooDeep(bytes)) throw new TooDeep('nested too deep');
  (request as WithBytes)[AS_SENT] = bytes;
}

const AS_SENT = Symbol('the body as it came');

interface WithBytes {
  [AS_SENT]?: Uint8Array;
}

/** The body of a request as it came: what was sent, not what it means. */
export function bodyAsSent(request: object): Uint8Array | undefined {
  return (request as WithBytes)[AS_SENT];
}
