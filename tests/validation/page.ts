import { account } from './account.js';
import { leftOut } from './left-out.js';
import { table } from './markdown.js';
import {
  agreementText,
  differenceText,
  oursText,
  publishedText,
  remarkText,
  VERDICT_WORD,
} from './row-text.js';
import { AGREEMENTS, VERDICTS, verdict, type Origin, type Row } from './row.js';
import type { Section } from './section.js';

interface NumberedRow {
  /** Section and place in it, such as 4.12. */
  readonly id: string;
  readonly row: Row;
}

const OTHER_ORIGINS: readonly Origin[] = ['same equation', 'derived', 'recalled'];

export function numbered(sections: readonly Section[]): readonly NumberedRow[] {
  return sections.flatMap(({ rows }, section) =>
    rows.map((row, index) => ({ id: `${section + 1}.${index + 1}`, row })),
  );
}

function isPublished({ reference }: Row): boolean {
  return reference?.origin === 'published';
}

function isGuessed({ guessed }: Row): boolean {
  return guessed !== undefined;
}

/** Agrees with the literature, and not by construction. */
function isAgreement(row: Row): boolean {
  const found = verdict(row);
  return AGREEMENTS.some((one) => one === found);
}

/** Counts of the rows of one line: published without and with a guess, then by the other origins, then all. */
function counts(rows: readonly Row[]): readonly string[] {
  const published = rows.filter(isPublished);
  const guessed = published.filter(isGuessed).length;
  return [
    published.length - guessed,
    guessed,
    ...OTHER_ORIGINS.map((origin) => rows.filter(({ reference }) => reference?.origin === origin).length),
    rows.length,
  ].map(String);
}

/** What the published values come to, in a sentence. */
function inShort(numberedRows: readonly NumberedRow[]): string {
  const published = numberedRows.map(({ row }) => row).filter(isPublished);
  const agree = published.filter(isAgreement);
  const guessed = agree.filter(isGuessed).length;
  const plain = numberedRows
    .filter(({ row }) => isPublished(row) && isAgreement(row) && !isGuessed(row))
    .map(({ id }) => id);
  const by = (wanted: string): number => published.filter((row) => verdict(row) === wanted).length;
  const neither = published.length - agree.length - by('by construction') - by('disagrees');
  return `Of ${published.length} published values ${by('disagrees')} disagree; ${agree.length} agree, but ${guessed} of those only after a guess, so ${agree.length - guessed} agree as printed (rows ${plain.join(', ')}); ${by('by construction')} more, of the generic bone, hold by construction, and ${neither} lie where agreement cannot be claimed.`;
}

/** Counts by agreement and by where the reference is from. */
function summary(numberedRows: readonly NumberedRow[]): string {
  const rows = numberedRows.map(({ row }) => row);
  const lines = VERDICTS.map((one) => [
    VERDICT_WORD[one],
    ...counts(rows.filter((row) => verdict(row) === one)),
  ]);
  return [
    '## Summary',
    '',
    inShort(numberedRows),
    '',
    'Counted are values, not papers: one paper may give many, and one line stands beside several readings of itself. Only the first two columns speak of the literature, and the second of them only with a guess of ours.',
    '',
    table(
      [
        'Agreement',
        'Published, nothing guessed',
        'Published, with a guess',
        'Same equation',
        'Derived',
        'Recalled',
        'All',
      ],
      [...lines, ['all', ...counts(rows)]],
    ),
  ].join('\n');
}

/** How the published values of each subject stand. */
function bySubject(sections: readonly Section[]): string {
  const lines = sections
    .filter(({ rows }) => rows.length > 0)
    .map(({ title, rows }) => {
      const published = rows.filter(isPublished);
      const agree = published.filter(isAgreement);
      const guessed = agree.filter(isGuessed).length;
      const by = (wanted: string): number => published.filter((row) => verdict(row) === wanted).length;
      const neither = published.length - agree.length - by('by construction') - by('disagrees');
      return [
        title,
        ...[
          agree.length - guessed,
          guessed,
          by('by construction'),
          neither,
          by('disagrees'),
          rows.length - published.length,
        ].map(String),
      ];
    });
  return table(
    [
      'Subject',
      'Published, agree, nothing guessed',
      'Published, agree with a guess',
      'Published, by construction',
      'Published, neither',
      'Published, disagree',
      'Not published',
    ],
    lines,
  );
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
      agreementText(row),
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
    summary(rows),
    bySubject(sections),
    disagreements(rows),
    ...sections.map(subject),
    leftOut(),
    '',
  ]
    .join('\n\n')
    .trimEnd()
    .concat('\n');
}
