import { createSecretKey } from 'node:crypto';
import { z } from 'zod';
import { normaliseBase } from './fallback/base-url.js';

/** The forms settings come in; what is wrong with one is told without a part of its value where it is a secret. */

/** An origin as browsers send it: scheme, host and port, nothing behind; anything else would never match. */
export const origin = z.string().refine(isOrigin, 'expected an origin such as https://chart.example');

function isOrigin(text: string): boolean {
  return /^https?:/.test(text) && URL.canParse(text) && new URL(text).origin === text;
}

/** A page that may frame ours: an origin, or `'self'` (Content Security Policy Level 3, frame-ancestors). */
export const frameAncestor = z
  .string()
  .refine((text) => text === "'self'" || isOrigin(text), "expected an origin or 'self'");

/** Where the service is reached: http or https, no query, no fragment, no user; written without a slash at the end. */
export const publicUrl = z.string().transform((text, context) => {
  if (/^https?:/.test(text) && URL.canParse(text)) {
    const url = new URL(text);
    const bare = url.search === '' && url.hash === '' && url.username === '' && url.password === '';
    if (bare) return url.href.replace(/\/+$/, '');
  }
  context.addIssue('expected a URL such as https://hip.hospital.example/kotyle');
  return z.NEVER;
});

/** A host that only this machine reaches. */
export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127(?:\.\d{1,3}){3}$/.test(host);
}

/** A base URL that can be compared with the `fhirServer` of a call, and written as that comparison reads it. */
export const fhirBase = z.string().transform((text, context) => {
  const base = normaliseBase(text);
  if (base !== undefined) return base;
  context.addIssue('expected the base URL of a FHIR server such as https://record.example/fhir');
  return z.NEVER;
});

/** A whole number written in digits; an empty setting is a mistake, not a zero. */
export const digits = z.string().regex(/^\d+$/, 'expected a whole number').transform(Number);

/** RFC 4648, section 4: groups of four, the last one filled up. */
const BASE64 = /^(?:[A-Za-z0-9+/]{4})+(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$/;
const KEY_BYTES = 32;

/** A secret of at least 32 bytes. */
export const secretKey = z
  .string()
  .refine(
    (text) => BASE64.test(text) && Buffer.from(text, 'base64').length >= KEY_BYTES,
    `expected at least ${KEY_BYTES} bytes in base64`,
  )
  .transform((text) => createSecretKey(text, 'base64'));

/** Parts written with commas between them; none by default. */
export const list = z.string().default('').transform(parts);

/** FHIR servers that may be asked. `none` is the empty list said aloud, where leaving it out might be forgetting it. */
export const fhirServerList = z
  .string()
  .default('')
  .transform((text) => (text.trim() === 'none' ? [] : parts(text)))
  .pipe(z.array(fhirBase));

function parts(text: string): string[] {
  return text
    .split(',')
    .map((part) => part.trim())
    .filter((part) => part !== '');
}
