import { decodeJwt, decodeProtectedHeader } from 'jose';
import type { JWTPayload, ProtectedHeaderParameters } from 'jose';

/** A token as it came: what it says of itself is not yet believed. */
export interface UnverifiedToken {
  readonly text: string;
  readonly header: Readonly<ProtectedHeaderParameters>;
  readonly claims: Readonly<JWTPayload>;
}

/** Longer than any token has reason to be; what is longer is not looked into. */
const LONGEST_TOKEN = 8192;
const BEARER = /^bearer +([A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]*)$/i;

/** The token of an Authorization header; undefined when it holds none, or a thing that is not a signed JWT. */
export function readToken(authorization: string): UnverifiedToken | undefined {
  if (authorization.length > LONGEST_TOKEN) return undefined;
  const text = BEARER.exec(authorization)?.[1];
  if (text === undefined) return undefined;
  try {
    return { text, header: decodeProtectedHeader(text), claims: decodeJwt(text) };
  } catch {
    return undefined;
  }
}
