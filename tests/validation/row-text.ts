import { fixed } from './reference.js';
import { difference, isBound, isValue, match, verdict, type Origin, type Row, type Verdict } from './row.js';

const ORIGIN_MARK: Readonly<Record<Origin, string>> = {
  published: '',
  'same equation': ' (same equation)',
  derived: ' (derived)',
  recalled: ' (recalled)',
};

export const VERDICT_WORD: Readonly<Record<Verdict, string>> = {
  'printed precision': 'to printed precision',
  'printed range': 'within printed range or its rounding',
  'bound or sign': 'meets bound or sign',
  'by construction': 'agrees by construction (bone)',
  'inside our range': 'inside our range over guessed inputs, no agreement',
  'inside spread': 'within the spread about a mean only, no agreement',
  'own tolerance': 'within a tolerance of ours, no agreement',
  disagrees: 'DISAGREES',
  'no published value': 'no published value',
};

/** The verdict of a row; where it holds by construction, what holds. */
export function agreementText(row: Row): string {
  const word = VERDICT_WORD[match(row)];
  return verdict(row) === 'by construction' ? `${word} (by construction)` : word;
}

export function publishedText({ reference }: Row): string {
  if (reference === undefined) return 'none found';
  const { span, decimals, origin, words } = reference;
  if (words !== undefined) return words;
  const [low, high] = [fixed(span.low, decimals), fixed(span.high, decimals)];
  const mark = ORIGIN_MARK[origin];
  if (!Number.isFinite(span.high)) return `more than ${low}${mark}`;
  if (!Number.isFinite(span.low)) return `less than ${high}${mark}`;
  return isValue(span) ? `${low}${mark}` : `${low} to ${high}${mark}`;
}

export function oursText({ ours, decimals }: Row): string {
  const [low, high] = [fixed(ours.low, decimals), fixed(ours.high, decimals)];
  return isValue(ours) || low === high ? low : `${low} to ${high}`;
}

export function differenceText({ reference, ours, decimals }: Row): string {
  if (reference === undefined) return 'none to state';
  const apart = difference(reference.span, ours);
  if (apart === 0 && !isBound(reference.span)) {
    if (!isValue(reference.span)) return 'inside';
    if (!isValue(ours)) return 'inside ours';
  }
  const text = fixed(apart, decimals);
  return Number(text) > 0 ? `+${text}` : text;
}

/** What a reader must know beside the numbers: tolerance where it is used, what was guessed, the likely reason. */
export function remarkText(row: Row): string {
  const { reference, guessed, remark } = row;
  const parts: string[] = [];
  if (reference?.tolerance !== undefined && match(row) !== 'printed precision') {
    const { by, from } = reference.tolerance;
    parts.push(`Tolerance ${String(Number(by.toFixed(4)))}: ${from}.`);
  }
  if (guessed !== undefined) parts.push(`Guessed: ${guessed}.`);
  if (remark !== undefined) parts.push(remark);
  return parts.join(' ');
}
