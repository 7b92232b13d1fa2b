import type { z } from 'zod';
import type { Pack, PackFile, RulebookIssue } from './pack.js';

export interface Parsed<Value> {
  readonly file: string;
  readonly value: Value;
}

/** Checks one file against its schema; issues name the path, what was expected and what was found. */
export function parseFile<Schema extends z.ZodType>(
  file: PackFile,
  schema: Schema,
): { readonly parsed?: Parsed<z.infer<Schema>>; readonly issues: readonly RulebookIssue[] } {
  const known = knownValues(file.content);
  const before = known?.get(schema);
  if (before) return { parsed: { file: file.path, value: before.value as z.infer<Schema> }, issues: [] };
  const result = schema.safeParse(file.content, { reportInput: true });
  if (result.success) {
    known?.set(schema, { value: result.data });
    return { parsed: { file: file.path, value: result.data }, issues: [] };
  }
  return { issues: result.error.issues.flatMap((issue) => describe(issue, file)) };
}

/** Contents belong to a pack and never change: each is read once by a schema, however often it is built into a rulebook. */
const readBefore = new WeakMap<object, Map<z.ZodType, { readonly value: unknown }>>();

function knownValues(content: unknown): Map<z.ZodType, { readonly value: unknown }> | undefined {
  if (typeof content !== 'object' || content === null) return undefined;
  const known = readBefore.get(content) ?? new Map<z.ZodType, { readonly value: unknown }>();
  readBefore.set(content, known);
  return known;
}

/** A union says only "invalid": the branch that came furthest tells the reader more. */
function describe(
  issue: z.core.$ZodIssue,
  file: PackFile,
  base: readonly PropertyKey[] = [],
): readonly RulebookIssue[] {
  const path = [...base, ...issue.path];
  if (issue.code === 'invalid_union' && issue.errors.length > 0) {
    const closest = [...issue.errors].sort((a, b) => depth(b) - depth(a) || a.length - b.length)[0] ?? [];
    const inner = closest.flatMap((deeper) => describe(deeper, file, path));
    if (inner.length > 0) return inner;
  }
  return [
    {
      file: file.path,
      path: pathText(path),
      expected: expectation(issue),
      found: foundAt(file.content, path),
    },
  ];
}

function depth(issues: readonly z.core.$ZodIssue[]): number {
  return Math.max(0, ...issues.map((issue) => issue.path.length));
}

function pathText(path: readonly PropertyKey[]): string {
  return path
    .map((step, index) =>
      typeof step === 'number' ? `[${step}]` : `${index === 0 ? '' : '.'}${String(step)}`,
    )
    .join('');
}

function expectation(issue: z.core.$ZodIssue): string {
  switch (issue.code) {
    case 'invalid_type':
      return issue.expected;
    case 'unrecognized_keys':
      return `no member ${issue.keys.join(', ')}`;
    case 'invalid_value':
      return `one of ${issue.values.map(String).join(', ')}`;
    default:
      return issue.message;
  }
}

function foundAt(content: unknown, path: readonly PropertyKey[]): string {
  let value: unknown = content;
  for (const step of path) {
    if (typeof value !== 'object' || value === null) return 'nothing';
    value = (value as Readonly<Record<PropertyKey, unknown>>)[step];
  }
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value);
  return text.length > 60 ? `${text.slice(0, 59)}…` : text;
}

/** All files below a folder of the pack, one schema, sorted by path. */
export function parseFolder<Schema extends z.ZodType>(
  pack: Pack,
  folder: string,
  schema: Schema,
): { readonly parsed: readonly Parsed<z.infer<Schema>>[]; readonly issues: readonly RulebookIssue[] } {
  const results = pack.files
    .filter(({ path }) => path.startsWith(`${folder}/`))
    .map((file) => parseFile(file, schema));
  return {
    parsed: results.flatMap(({ parsed }) => (parsed ? [parsed] : [])),
    issues: results.flatMap(({ issues }) => issues),
  };
}

export function fileNamed(pack: Pack, path: string): PackFile {
  return pack.files.find((file) => file.path === path) ?? { path, content: undefined };
}
