import { readFileSync } from 'node:fs';
import type { z } from 'zod';
import { formatIssue } from '../rulebook/pack.js';
import { parseFile } from '../rulebook/parse.js';
import { jsonFault } from './evaluate/json-fault.js';

/** What was read, or what is wrong with it: each fault names the file, the place, what was expected and what was found. */
export type Checked<Value> =
  { readonly ok: true; readonly value: Value } | { readonly ok: false; readonly faults: readonly string[] };

/** Reads a JSON file of one of our own forms. */
export function readChecked<Schema extends z.ZodType>(
  file: string,
  schema: Schema,
): Checked<z.infer<Schema>> {
  const text = readText(file);
  if (text === undefined)
    return { ok: false, faults: [`${file}: expected a JSON file, found nothing to read`] };
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    return { ok: false, faults: [brokenJson(text, file)] };
  }
  const { parsed, issues } = parseFile({ path: file, content }, schema);
  return parsed ? { ok: true, value: parsed.value } : { ok: false, faults: issues.map(formatIssue) };
}

function brokenJson(text: string, file: string): string {
  const fault = jsonFault(text);
  if (!fault) return `${file}: broken JSON`;
  const { line, column, expected, found } = fault;
  return `${file}: broken JSON at line ${line}, column ${column}: expected ${expected}, found ${found}`;
}

/** A JSON file that comes with the program. Throws with every fault: without it nothing that needs it can work. */
export function readShipped<Schema extends z.ZodType>(file: string, schema: Schema): z.infer<Schema> {
  const read = readChecked(file, schema);
  if (read.ok) return read.value;
  throw new Error(read.faults.join('\n'));
}

/** The text of a file; undefined when there is none that can be read. */
export function readText(file: string): string | undefined {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return undefined;
  }
}

/** Everything read, or every fault met. */
export function allChecked<Value>(read: readonly Checked<Value>[]): Checked<readonly Value[]> {
  const faults = read.flatMap((one) => (one.ok ? [] : one.faults));
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, value: read.flatMap((one) => (one.ok ? [one.value] : [])) };
}
