import { markup } from '../html.js';
import type { Html } from '../html.js';

type Cell = string | Html | readonly (string | Html)[];

export interface PageTable {
  /** Names the table for whoever hears it; `columns` are its headings. */
  readonly caption: string;
  readonly columns: readonly string[];
  /** The first cell of a row is its heading; a list stands in lines of its own. */
  readonly rows: readonly (readonly Cell[])[];
}

/** A table that is read and printed; one that is too wide for a screen scrolls by itself. */
export function pageTable({ caption, columns, rows }: PageTable): Html | undefined {
  if (rows.length === 0) return undefined;
  return markup`<div class="wide" role="region" aria-label="${caption}" tabindex="0"><table>
<caption>${caption}</caption>
<thead><tr>${columns.map((column) => markup`<th scope="col">${column}</th>`)}</tr></thead>
<tbody>
${rows.map((row) => markup`<tr>${row.map(cellHtml)}</tr>\n`)}</tbody>
</table></div>
`;
}

function cellHtml(cell: Cell, index: number): Html {
  const lines = isList(cell) ? cell : [cell];
  const text = lines.map((line, at) => (at === 0 ? markup`${line}` : markup`<br>${line}`));
  return index === 0
    ? markup`<th scope="row">${text}</th>`
    : markup`<td>${text.length === 0 ? '–' : text}</td>`;
}

function isList(cell: Cell): cell is readonly (string | Html)[] {
  return Array.isArray(cell);
}

/** A list of points; nothing where there is none. */
export function points(items: readonly (string | Html)[]): Html | undefined {
  return items.length === 0 ? undefined : markup`<ul>${items.map((item) => markup`<li>${item}</li>`)}</ul>\n`;
}
