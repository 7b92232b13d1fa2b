import { markup } from '../../render/html.js';
import { percentText } from '../report/burden-figures.js';
import type { Section } from '../report/page.js';
import { figuresHtml } from '../report/report-head.js';
import { table } from '../report/table.js';
import type { Readiness } from './readiness-types.js';

/** What was looked at, and the few figures that decide whether to read on. */
export function overviewSection({ sample, entries, unmapped, governance, contentHash }: Readiness): Section {
  const calls = sum(entries.map((entry) => entry.calls));
  const recognised = sum(entries.map((entry) => entry.recognised.yes));
  const cut = sum(
    entries.flatMap(({ kept }) => kept.filter(({ why }) => why === 'ceiling').map((one) => one.calls)),
  );
  const open = unmapped.local.filter(({ isMappedNow }) => !isMappedNow).length;
  const { signature } = governance.now;
  return {
    id: 'overview',
    title: 'What was looked at',
    body: markup`${figuresHtml([
      ['members of the sample', sample.members],
      ['hook calls', calls],
      ['about a hip replacement', `${recognised} (${percentText(recognised, calls)})`],
      ['calls in which the ceiling kept cards back', cut],
      ['local codes without a line in a map', open],
    ])}
<p>${sample.calls} recorded hook calls and ${sample.bundles} patients kept as Bundles, for each of which the calls were made that a record system would make. ${unreadableText(sample)} A sample stands for the installation only as far as whoever chose it chose well.</p>
${sample.months.length === 0 ? undefined : markup`<p>It tells of ${sample.months.map(({ of, first, last }) => `${of} from ${first} to ${last}`).join(', ')}.</p>`}
<p>Cards are counted as readers would see them once the installation speaks. ${signature === 'installation' ? 'Exactly this content is signed already.' : 'Nothing of it is signed: in production nothing is shown.'} What is to be signed is <code>${contentHash}</code>.</p>
${sample.unreadable.length === 0 ? undefined : unreadableTable(sample)}`,
  };
}

function unreadableText({ unreadable }: Readiness['sample']): string {
  const count = sum(unreadable.map((one) => one.count));
  return count === 0 ? 'Every member could be read.' : `${count} members could not be read and are left out.`;
}

function unreadableTable({ unreadable }: Readiness['sample']): ReturnType<typeof table> {
  return table({
    caption: 'Members that could not be read',
    columns: ['Why', 'Members'],
    rows: unreadable.map(({ why, count }) => [why, { number: count }]),
  });
}

function sum(numbers: readonly number[]): number {
  return numbers.reduce((total, one) => total + one, 0);
}
