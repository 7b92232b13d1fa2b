import { markup } from '../../render/html.js';
import { HOOK_TITLES } from '../../render/words.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { EntryFigures, Readiness } from './readiness-types.js';
import { shareCell } from './share-cell.js';

/** Which calls were known to be about a hip replacement, and by what. */
export function recognitionSection({ entries }: Readiness): Section {
  const called = entries.filter(({ calls }) => calls > 0);
  const by = called.flatMap((entry) => entry.by.map((one) => ({ ...one, entry })));
  return {
    id: 'recognition',
    title: 'Recognition',
    body: markup`<p>Yes and no are certain; unknown means that something the call points to could not be followed, and gets no advice. A hip replacement ordered under a code nothing understands counts as no: see the codes not understood.</p>
${table({
  caption: 'Calls by what recognition said',
  columns: ['Hook', 'Calls', 'Yes', 'No', 'Unknown', 'Refused', 'Patient or relative', 'Service off', 'Hips'],
  rows: called.map((entry) => [
    HOOK_TITLES[entry.hook],
    { number: entry.calls },
    shareCell(entry.recognised.yes, entry.calls),
    shareCell(entry.recognised.no, entry.calls),
    shareCell(entry.recognised.unknown, entry.calls),
    shareCell(entry.recognised.refused, entry.calls),
    shareCell(entry.recognised.lay, entry.calls),
    shareCell(entry.recognised.off, entry.calls),
    { number: entry.hips },
  ]),
})}
${
  by.length === 0
    ? markup`<p>No call was recognised.</p>`
    : table({
        caption: 'Recognised calls by the coding system that made them so, after the site’s maps',
        columns: ['Hook', 'By', 'Calls'],
        rows: by.map(({ entry, what, calls }) => [
          HOOK_TITLES[entry.hook],
          markup`<code>${what}</code>`,
          { number: calls },
        ]),
      })
}
<p>${mappedText(called)}</p>`,
  };
}

function mappedText(called: readonly EntryFigures[]): string {
  const total = (read: (entry: EntryFigures) => number): number =>
    called.reduce((sum, entry) => sum + read(entry), 0);
  const recognised = total((entry) => entry.recognised.yes);
  const mapped = total((entry) => entry.mapped);
  const notListed = total((entry) => entry.notListed);
  return `In ${mapped} of ${recognised} recognised calls the site’s maps translated a code. ${notListed} recognised calls had no reader the site lists, and would get no card.`;
}
