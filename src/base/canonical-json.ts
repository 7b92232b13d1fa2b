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
  switch (typeof value) {
    case 'string':
      return quoted(value);
    case 'number':
      return canonicalNumber(value);
    case 'boolean':
      return value ? 'true' : 'false';
    case 'object':
      if (value === null) return 'null';
      if (Array.isArray(value)) return canonicalArray(value);
      return canonicalObject(value as Readonly<Record<string, unknown>>);
    default:
      throw new TypeError(`cannot serialise a ${typeof value}`);
  }
}

export function canonicalNumber(value: number): string {
  if (!Number.isFinite(value)) throw new TypeError(`cannot serialise ${value}`);
  return JSON.stringify(value);
}

// Whole records are written this way for every answer: texts are grown rather than joined from lists, and neither the
// short texts nor the short lists of names that they are made of are worth a call of the general function.

function canonicalArray(items: readonly unknown[]): string {
  let text = '[';
  for (let index = 0; index < items.length; index += 1) {
    if (index > 0) text += ',';
    text += canonicalJson(items[index] ?? null);
  }
  return `${text}]`;
}

function canonicalObject(value: Readonly<Record<string, unknown>>): string {
  let text = '{';
  for (const name of sortedNames(value)) {
    const member = value[name];
    if (member === undefined) continue;
    if (text !== '{') text += ',';
    text += `${quoted(name)}:${canonicalJson(member)}`;
  }
  return `${text}}`;
}

/** Most names that are put in order one by one; beyond, that would be slower than the general way. */
const FEW_NAMES = 24;

/** Comparing texts and the default sort both go by UTF-16 code units, which is what the RFC asks for. */
export function sortedNames(value: object): readonly string[] {
  const names = Object.keys(value);
  if (names.length > FEW_NAMES) return names.sort();
  for (let next = 1; next < names.length; next += 1) {
    const name = names[next] ?? '';
    let place = next;
    for (let before = names[place - 1]; before !== undefined && before > name; before = names[place - 1]) {
      names[place] = before;
      place -= 1;
    }
    names[place] = name;
  }
  return names;
}

/** No quote, backslash or control character, and no half of a pair: those the general function writes out. */
const NO_ESCAPE = /^[ !#-[\]-\ud7ff\ue000-\uffff]*$/;

const SHORT = 64;

function quoted(text: string): string {
  return text.length <= SHORT && NO_ESCAPE.test(text) ? `"${text}"` : JSON.stringify(text);
}
