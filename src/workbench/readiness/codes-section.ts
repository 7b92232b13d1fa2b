import type { Html } from '../../render/html.js';
import { markup } from '../../render/html.js';
import type { Section } from '../report/page.js';
import { table } from '../report/table.js';
import type { UnmappedRow } from '../unmapped/unmapped-report.js';
import type { Readiness } from './readiness-types.js';

/** Of published codes most have nothing to do with a hip: these are enough to see whether one has. */
const MOST_PUBLISHED = 40;

/** Codes nothing understood: a hip under such a code is not seen. */
export function codesSection({ unmapped, unmappedLeftOut }: Readiness): Section {
  const { local, published, nameless } = unmapped;
  const shown = published.slice(0, MOST_PUBLISHED);
  return {
    id: 'codes',
    title: 'Codes not understood',
    body: markup`<p>A hip replacement, a measure or a diagnosis under a code in the first table is not seen. Counts are of resources; texts are never kept.</p>
${rowsHtml(local, 'Local codes', 'Every local code met is understood.')}
${rowsHtml(nameless, 'Codes without a system, and words in the place of codes', 'Every code met has a system.')}
${rowsHtml(shown, 'Published codes that no rule reads, the most frequent', 'Every published code met is read.')}
${published.length > shown.length ? markup`<p>${published.length - shown.length} more published codes were met less often; kotyle unmapped lists all.</p>` : undefined}
${unmappedLeftOut > 0 ? markup`<p>${unmappedLeftOut} further codings were met and not told apart, because there were too many different ones.</p>` : undefined}`,
  };
}

function rowsHtml(rows: readonly UnmappedRow[], caption: string, otherwise: string): Html {
  if (rows.length === 0) return markup`<p>${otherwise}</p>`;
  return table({
    caption,
    columns: ['Where', 'System', 'Code', 'Resources', 'A map would need'],
    rows: rows.map(({ resourceType, element, system, code, count, wants, isMappedNow }) => [
      `${resourceType}.${element}`,
      markup`<code>${system}</code>`,
      markup`<code>${code}</code>`,
      { number: count },
      isMappedNow ? 'mapped, and not looked at here' : (wants?.says ?? '–'),
    ]),
  });
}
