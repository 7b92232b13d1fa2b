import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';
import { groupedTitles } from '../rulebook/test-titles.js';

/** Rows of the CDS Hooks conformance list, and the tests that hold them. */

export const ROOT = fileURLToPath(new URL('../../', import.meta.url));

const rowTest = z.strictObject({ file: z.string(), title: z.string() });

const row = z.strictObject({
  id: z.string().regex(/^(?:[GDRHPFCBSXETN]\d{1,2}|[a-z-]+(?:\.[A-Za-z]+)?)$/),
  level: z.string(),
  version: z.enum(['2.0', '3.0', 'both', '-']),
  section: z.string(),
  requirement: z.string().min(10),
  /** `client`: a duty of the client, survived when broken where a test says so. `superseded`: decided otherwise. */
  status: z.enum(['applies', 'superseded', 'client', 'not-offered']),
  /** By what decision, or why not. */
  why: z.string().optional(),
  tests: z.array(rowTest),
});

export type Row = z.infer<typeof row>;
/** A test by its file and its title as written there; with its groups where its title alone may not tell it. */
export type RowTest = z.infer<typeof rowTest> & { readonly groups?: readonly string[] };

export function readRows(): readonly Row[] {
  const text = readFileSync(new URL('rows.json', import.meta.url), 'utf8');
  return z.strictObject({ note: z.string(), rows: z.array(row) }).parse(JSON.parse(text)).rows;
}

/** Whether a row asks for something here that a test must hold. */
export function isApplicable({ status }: Row): boolean {
  return status === 'applies';
}

const TAGGED = /^\[([A-Za-z0-9.-]+(?:, [A-Za-z0-9.-]+)*)\] /;

/** Every test of this checkout whose title, or that of a group it is in, begins with the rows it holds: `[P9, E2] …`. */
export function taggedTests(): ReadonlyMap<string, readonly RowTest[]> {
  const tagged = new Map<string, RowTest[]>();
  const files = readdirSync(join(ROOT, 'tests'), { recursive: true, encoding: 'utf8' }).sort();
  for (const name of files.filter((each) => each.endsWith('.test.ts'))) {
    const file = `tests/${name}`;
    const text = readFileSync(join(ROOT, file), 'utf8');
    if (!/['"`]\[[A-Z]\d|['"`]\[[a-z]+-/.test(text)) continue;
    for (const { title, groups } of groupedTitles(file, text))
      for (const id of rowsIn([title, ...groups]))
        tagged.set(id, [...(tagged.get(id) ?? []), { file, title, groups }]);
  }
  return tagged;
}

function rowsIn(titles: readonly string[]): ReadonlySet<string> {
  return new Set(titles.flatMap((title) => TAGGED.exec(title)?.[1]?.split(', ') ?? []));
}

/** All tests of a row: those named in the list and those that name the row. */
export function testsOf(one: Row, tagged: ReadonlyMap<string, readonly RowTest[]>): readonly RowTest[] {
  return [...one.tests, ...(tagged.get(one.id) ?? [])];
}

/** Matches the titles a run tells of a test, whose placeholders it has filled in. */
export function titlePattern(title: string): RegExp {
  const parts = title.split(/\$\{.*?\}|\$[A-Za-z][\w.]*|%[sdijop#]/);
  return new RegExp(`^${parts.map((part) => part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')).join('.*')}$`, 's');
}
