import type { Hook } from '../../advice/index.js';
import type { Html } from '../../render/html.js';
import { markup } from '../../render/html.js';
import { HOOK_TITLES } from '../../render/words.js';
import { bars } from '../report/bars.js';
import { cardsAtShare, percentText } from '../report/burden-figures.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { Cell } from '../report/table.js';
import type { EntryFigures, Readiness } from './readiness-types.js';
import { shareCell } from './share-cell.js';

/** How many cards a reader would get, and what would be kept back. */
export function cardsSection({ entries, rules }: Readiness): Section {
  const called = entries.filter(({ calls }) => calls > 0);
  return {
    id: 'cards',
    title: 'Cards per call',
    body: markup`<p>Twice: over all calls of a hook, as the record system sees it, and over those about a hip replacement, as a surgeon does. Half the calls have no more cards than the median, 95 of 100 no more than the next figure. No card is not clearance.</p>
${table({
  caption: 'Cards per call',
  columns: ['Hook', 'Over calls', 'Calls', 'Median', '95 %', 'Most', 'Any card', 'A warning', 'Critical'],
  rows: called.flatMap((entry) => [rowOf(entry, 'all'), rowOf(entry, 'recognised')]),
})}
${called.filter(({ recognised }) => recognised.yes > 0).map(picture)}
${keptHtml(called)}
${ceilingHtml(rules)}`,
  };
}

function rowOf(entry: EntryFigures, over: 'all' | 'recognised'): readonly Cell[] {
  const { hook, recognised, callsByCards, callsWith } = entry;
  const calls = over === 'all' ? entry.calls : recognised.yes;
  const [none = 0, ...some] = callsByCards;
  const counted = { calls, callsByCards: [none + calls - recognised.yes, ...some] };
  const any = some.reduce((sum, count) => sum + count, 0);
  return [
    HOOK_TITLES[hook],
    over,
    { number: calls },
    cardsCell(counted, 0.5),
    cardsCell(counted, 0.95),
    { number: Math.max(0, callsByCards.length - 1) },
    shareCell(any, calls),
    shareCell(callsWith.warning, calls),
    shareCell(callsWith.critical, calls),
  ];
}

function cardsCell(counted: Parameters<typeof cardsAtShare>[0], share: number): Cell {
  const cards = cardsAtShare(counted, share);
  return cards === undefined ? { number: -1, shown: '–' } : { number: cards };
}

function picture({ hook, recognised, callsByCards }: EntryFigures): Html {
  const rows = callsByCards.map((calls, cards) => ({
    label: cards === 0 ? 'no card' : cards === 1 ? '1 card' : `${cards} cards`,
    parts: [{ value: calls, look: 'bar-plain', name: `${cards} cards` }],
    said: `${calls} (${percentText(calls, recognised.yes)})`,
  }));
  return markup`<h3>${HOOK_TITLES[hook]}: recognised calls by number of cards</h3>
${bars({
  id: `cards-${hook}`,
  title: `${HOOK_TITLES[hook]}: recognised calls by number of cards`,
  description: rows.map(({ label, said }) => `${label}: ${said}`).join('; '),
  bars: rows,
})}`;
}

const KEPT: Readonly<Record<string, string>> = {
  ceiling: 'kept back by the ceiling, and named on the last card',
  acknowledged: 'answered before',
  'said-by-another': 'said better by another card',
  silent: 'rule is silent here',
};

function keptHtml(called: readonly EntryFigures[]): Html {
  const kept = called.flatMap((entry) => entry.kept.map((one) => ({ ...one, entry })));
  if (kept.length === 0) return markup`<p>No card was kept back.</p>`;
  const title = (hook: Hook): string => HOOK_TITLES[hook];
  return table({
    caption: 'Cards whose rule fires and that would not be shown',
    columns: ['Hook', 'Why', 'Cards', 'In calls', 'Of recognised calls'],
    rows: kept.map(({ entry, why, cards, calls }) => [
      title(entry.hook),
      KEPT[why] ?? why,
      { number: cards },
      { number: calls },
      percentText(calls, entry.recognised.yes),
    ]),
  });
}

function ceilingHtml(rules: Readiness['rules']): Html | undefined {
  const cut = rules.filter(({ keptByCeiling }) => keptByCeiling > 0);
  if (cut.length === 0) return undefined;
  return markup`<p>Kept back by the ceiling: ${cut.map(({ rule, keptByCeiling }) => `${rule} (${keptByCeiling})`).join(', ')}.</p>`;
}
