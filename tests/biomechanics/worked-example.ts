import { readFileSync } from 'node:fs';
import { z } from 'zod';

const citation = z.object({
  authors: z.string().nullish(),
  journal: z.string().nullish(),
  year: z.number().nullish(),
  doi: z.string().nullish(),
  pmid: z.string().nullish(),
});

const record = z.object({
  id: z.string(),
  inputs: z.unknown(),
  expected: z.unknown(),
  citation,
  verified: z.enum(['full text', 'abstract', 'secondary source', 'from memory, unverified']),
  notes: z.unknown().optional(),
});

type WorkedExampleRecord = z.infer<typeof record>;

type File =
  | 'bony-contact'
  | 'combined-anteversion'
  | 'cup-orientation'
  | 'film-reading'
  | 'head-neck'
  | 'hip-force'
  | 'jump-distance'
  | 'optimum-anteversion'
  | 'pelvic-tilt'
  | 'range-of-motion'
  | 'spinopelvic'
  | 'tension'
  | 'wear';

/** What a test needs from a record, checked on reading so that a renamed field fails instead of passing by absence. */
interface Shapes<I extends z.ZodType, E extends z.ZodType, N extends z.ZodType> {
  readonly inputs: I;
  readonly expected: E;
  readonly notes?: N;
}

export interface WorkedExample<I, E, N> {
  readonly inputs: I;
  readonly expected: E;
  readonly notes: N;
  readonly citation: WorkedExampleRecord['citation'];
  readonly verified: WorkedExampleRecord['verified'];
  /** For the test's name: record, how far it was read, source. */
  readonly label: string;
}

/** Every record of a file, in file order. */
export function workedExampleIds(file: File): readonly string[] {
  return readFile(file).map(({ id }) => id);
}

export function workedExample<I extends z.ZodType, E extends z.ZodType, N extends z.ZodType = z.ZodUnknown>(
  file: File,
  id: string,
  shapes: Shapes<I, E, N>,
): WorkedExample<z.output<I>, z.output<E>, z.output<N>> {
  const found = readFile(file).find((candidate) => candidate.id === id);
  if (found === undefined) throw new Error(`no record ${id} in ${file}.json`);
  return {
    inputs: shapes.inputs.parse(found.inputs),
    expected: shapes.expected.parse(found.expected),
    notes: (shapes.notes ?? z.unknown()).parse(found.notes) as z.output<N>,
    citation: found.citation,
    verified: found.verified,
    label: label(found),
  };
}

function readFile(file: File): readonly WorkedExampleRecord[] {
  const url = new URL(`../published/evidence/worked-examples/${file}.json`, import.meta.url);
  return z.array(record).parse(JSON.parse(readFileSync(url, 'utf8')));
}

function label({
  id,
  verified,
  citation: { authors, journal, year, doi, pmid },
}: WorkedExampleRecord): string {
  const locator = doi ?? (pmid == null ? null : `PMID ${pmid}`);
  const source = [authors, journal, year, locator].filter((part) => part != null).join(', ');
  return `${id}; ${verified}; ${source === '' ? 'no citation' : source}`;
}
