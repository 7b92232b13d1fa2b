import { account } from './account.js';
import { table } from './markdown.js';
import { differenceText, oursText, publishedText, remarkText, VERDICT_WORD } from './row-text.js';
import { VERDICTS, verdict, type Origin, type Row } from './row.js';
import type { Section } from './section.js';

interface NumberedRow {
  /** Section and place in it, such as 4.12. */
  readonly id: string;
  readonly row: Row;
}

const ORIGINS: readonly Origin[] = ['published', 'derived', 'recalled'];

export function numbered(sections: readonly Section[]): readonly NumberedRow[] {
  return sections.flatMap(({ rows }, section) =>
    rows.map((row, index) => ({ id: `${section + 1}.${index + 1}`, row })),
  );
}

/** Counts by agreement and by where the reference is from. */
function summary(rows: readonly Row[]): string {
  const count = (kept: (row: Row) => boolean): string => String(rows.filter(kept).length);
  const lines = VERDICTS.map((one) => [
    VERDICT_WORD[one],
    ...ORIGINS.map((origin) => count((row) => verdict(row) === one && row.reference?.origin === origin)),
    count((row) => verdict(row) === one),
    count((row) => verdict(row) === one && row.guessed !== undefined),
  ]);
  const all = [
    'all',
    ...ORIGINS.map((origin) => count((row) => row.reference?.origin === origin)),
    String(rows.length),
    count((row) => row.guessed !== undefined),
  ];
  return [
    '## Summary',
    '',
    'Counted are values, not papers: one paper may give many, and one line stands beside several readings of itself. Only the first column speaks of the literature.',
    '',
    table(
      ['Agreement', 'Published', 'Derived', 'Recalled', 'All', 'of these with a guessed input'],
      [...lines, all],
    ),
  ].join('\n');
}

/** How the published values of each subject stand. */
function bySubject(sections: readonly Section[]): string {
  const lines = sections
    .filter(({ rows }) => rows.length > 0)
    .map(({ title, rows }) => {
      const published = rows.filter(({ reference }) => reference?.origin === 'published');
      const apart = published.filter((row) => verdict(row) === 'disagrees').length;
      return [title, String(published.length - apart), String(apart), String(rows.length - published.length)];
    });
  return [
    table(['Subject', 'Published, agree', 'Published, disagree', 'Not published'], lines),
    'The generic bone was chosen so that published signs hold: its agreement is by construction.',
  ].join('\n\n');
}

function disagreements(rows: readonly NumberedRow[]): string {
  const found = rows.filter(({ row }) => verdict(row) === 'disagrees');
  return [
    '## Disagreements',
    '',
    table(
      ['Row', 'What', 'Published', 'Ours', 'Difference', 'Unit', 'Likely reason'],
      found.map(({ id, row }) => [
        id,
        row.what,
        publishedText(row),
        oursText(row),
        differenceText(row),
        row.unit,
        remarkText(row),
      ]),
    ),
  ].join('\n');
}

const HEAD = [
  'Row',
  'What',
  'Published',
  'Ours',
  'Difference',
  'Unit',
  'Agreement',
  'Source',
  'How far read',
  'Remark',
];

function subject({ title, paragraphs, rows }: Section, index: number): string {
  const text = [`## ${index + 1}. ${title}`, ...paragraphs];
  if (rows.length > 0) {
    const lines = rows.map((row, place) => [
      `${index + 1}.${place + 1}`,
      row.what,
      publishedText(row),
      oursText(row),
      differenceText(row),
      row.unit,
      VERDICT_WORD[verdict(row)],
      row.source,
      row.read,
      remarkText(row),
    ]);
    text.push(table(HEAD, lines));
  }
  return text.join('\n\n');
}

/** The whole page, from the same numbers always the same text. */
export function page(sections: readonly Section[]): string {
  const rows = numbered(sections);
  return [
    account().trimEnd(),
    summary(rows.map(({ row }) => row)),
    bySubject(sections),
    disagreements(rows),
    ...sections.map(subject),
    '',
  ]
    .join('\n\n')
    .trimEnd()
    .concat('\n');
}
