import type { HookBurden } from './report-types.js';

/** The number of cards that a share of calls does not exceed: 0.5 gives the median. Undefined without calls. */
export function cardsAtShare(
  { calls, callsByCards }: Pick<HookBurden, 'calls' | 'callsByCards'>,
  share: number,
): number | undefined {
  let seen = 0;
  for (const [cards, count] of callsByCards.entries()) {
    seen += count;
    if (calls > 0 && seen >= share * calls) return cards;
  }
  return undefined;
}

/** A part of a whole for a reader; a dash of nothing. */
export function percentText(part: number, whole: number): string {
  if (whole === 0) return '–';
  const percent = (100 * part) / whole;
  return `${percent > 0 && percent < 1 ? percent.toFixed(1) : percent.toFixed(0)} %`;
}
