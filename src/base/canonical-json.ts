/** Any value that JSON can hold. `undefined` members of objects are left out, as JSON.stringify does. */
export type Json =
  null | boolean | number | string | readonly Json[] | { readonly [member: string]: Json | undefined };

/**
 * Serialises a value by RFC 8785 (JSON Canonicalization Scheme): members sorted by UTF-16 code units, numbers in
 * ECMAScript form, no white space. Throws TypeError on a value outside JSON (NaN, infinity, functions).
 *
 * Source: RFC 8785, sections 3.2.2 and 3.2.3. Checked: tests/base/canonical-json.test.ts (the RFC's own sample).
 */
export function canonicalJson(value: unknown): string {
  if (value === null || typeof value === 'boolean' || typeof value === 'string') return JSON.stringify(value);
  if (typeof value === 'number') return canonicalNumber(value);
  if (Array.isArray(value)) return canonicalArray(value);
  if (typeof value === 'object') return canonicalObject(value as Readonly<Record<string, unknown>>);
  throw new TypeError(`cannot serialise a ${typeof value}`);
}

function canonicalNumber(value: number): string {
  if (!Number.isFinite(value)) throw new TypeError(`cannot serialise ${value}`);
  return JSON.stringify(value);
}

// Texts are grown rather than joined from lists: whole records are written this way for every answer.

function canonicalArray(items: readonly unknown[]): string {
  let text = '[';
  for (let index = 0; index < items.length; index += 1) {
    if (index > 0) text += ',';
    text += canonicalJson(items[index] ?? null);
  }
  return `${text}]`;
}

/** Member names that need no escape, as nearly all do. */
const PLAIN_NAME = /^\w+$/;

function canonicalObject(value: Readonly<Record<string, unknown>>): string {
  let text = '{';
  // The default sort compares UTF-16 code units, which is what the RFC asks for.
  for (const name of Object.keys(value).sort()) {
    const member = value[name];
    if (member === undefined) continue;
    if (text !== '{') text += ',';
    text += PLAIN_NAME.test(name) ? `"${name}":` : `${JSON.stringify(name)}:`;
    text += canonicalJson(member);
  }
  return `${text}}`;
}
