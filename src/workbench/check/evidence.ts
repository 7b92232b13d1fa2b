import { z } from 'zod';
import type { Citation } from '../../rulebook/types.js';
import { readChecked } from '../checked-file.js';
import { UnusableInput } from './finding.js';

/** A text, null where the record has none. */
export const text = z
  .string()
  .nullish()
  .transform((value) => value ?? null);

/** The form of an evidence record, as far as citations are held against it. */
export const recordSchema = z.object({
  id: z.string(),
  notes: text,
  verified: z.string(),
  citation: z.object({
    authors: text,
    title: text,
    journal: text,
    year: z
      .number()
      .nullish()
      .transform((value) => value ?? null),
    volume: text,
    pages: text,
    doi: text,
    pmid: text,
    pmcid: text,
  }),
});

/** One record of the evidence: how far its source was read, and the source itself. */
export type EvidenceRecord = z.output<typeof recordSchema>;
export type Evidence = ReadonlyMap<string, EvidenceRecord>;

export const BIBLIOGRAPHY = [
  'authors',
  'title',
  'journal',
  'year',
  'volume',
  'pages',
  'doi',
  'pmid',
  'pmcid',
] as const;
export type BibliographyField = (typeof BIBLIOGRAPHY)[number];

/** How far a source can have been read, the least first. */
export const READ = ['secondary source', 'abstract', 'full text'] as const;

/** Reads a file of evidence records. Throws UnusableInput when it holds none. */
export function readEvidence(path: string): Evidence {
  const read = readChecked(path, z.array(recordSchema).min(1));
  if (read.ok) return new Map(read.value.map((record) => [record.id, record]));
  const [first = path, ...more] = read.faults;
  throw new UnusableInput(
    `expected evidence records: ${first}${more.length === 0 ? '' : `, and ${more.length} more faults`}`,
    'a JSON list of records with id, verified and citation, as in tests/published/evidence',
  );
}

/** What a record's notes say was only recalled: such a field is not taken over. */
const RECALLED: Readonly<Record<string, readonly BibliographyField[]>> = {
  'Volume and pages from memory': ['volume', 'pages'],
  'Author, journal and year from memory': ['authors', 'journal', 'year'],
  'First author, title, volume and pages from memory': ['authors', 'title', 'volume', 'pages'],
  'Volume/pages from memory': ['volume', 'pages'],
  'Volume from memory': ['volume'],
  'First author from memory': ['authors'],
  'First author/volume from memory': ['authors', 'volume'],
  'First author and journal from memory': ['authors', 'journal'],
  'Author from memory': ['authors'],
  'Author and journal from memory': ['authors', 'journal'],
  'first author from memory': ['authors'],
  'Authors, journal and year from memory': ['authors', 'journal', 'year'],
  'Journal from memory': ['journal'],
  'journal and year from memory': ['journal', 'year'],
  'Journal and year from memory': ['journal', 'year'],
  'Pages from memory': ['pages'],
  'Title not displayed; year from memory': ['year'],
  'title and first author from memory': ['title', 'authors'],
  'Author/journal from memory': ['authors', 'journal'],
};

/** What stands in a record's field where the source did not show it. */
const STAND_INS: Readonly<Partial<Record<BibliographyField, RegExp>>> = {
  authors: /from memory|not shown/,
  title: /from memory|not shown/,
  journal: /^\(journal not shown/,
};

/** The values of one field that the records behind a citation really read, without those they only recall. */
export function valuesRead(
  citation: Citation,
  field: BibliographyField,
  evidence: Evidence,
): readonly (string | number)[] {
  const behind = citation.records.flatMap((id) => evidence.get(id) ?? []);
  const values = behind.flatMap(({ citation: source, notes }) => {
    const isRecalled = Object.entries(RECALLED).some(
      ([words, fields]) => (notes ?? '').includes(words) && fields.includes(field),
    );
    const value = source[field];
    const isStandIn = typeof value === 'string' && (STAND_INS[field]?.test(value) ?? false);
    return value === null || isRecalled || isStandIn ? [] : [value];
  });
  return [...new Set(values)];
}
