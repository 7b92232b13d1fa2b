import { Html, markup } from '../../render/html.js';

/** A cell: text, or a number that sorts as one, `shown` as something else or not; `shade` from 0 to 1 tints it. */
export type Cell = string | Html | NumberCell;

export interface NumberCell {
  readonly number: number;
  readonly shown?: string;
  readonly shade?: number;
}

export interface TableParts {
  readonly caption: string;
  readonly columns: readonly string[];
  /** The first cell of a row is its heading. */
  readonly rows: readonly (readonly Cell[])[];
}

/** A table that sorts by any column where scripts run; wide ones scroll by themselves. */
export function table({ caption, columns, rows }: TableParts): Html {
  const headings = columns.map((column, index) =>
    rows.length > 0 && rows.every((row) => isNumber(row[index]))
      ? markup`<th scope="col" class="number">${column}</th>`
      : markup`<th scope="col">${column}</th>`,
  );
  return markup`<div class="wide" role="region" aria-label="${caption}" tabindex="0"><table class="sortable">
<caption>${caption}</caption>
<thead><tr>${headings}</tr></thead>
<tbody>
${rows.map((row) => markup`<tr>${row.map(cellHtml)}</tr>\n`)}</tbody>
</table></div>`;
}

function isNumber(cell: Cell | undefined): boolean {
  return typeof cell === 'object' && !(cell instanceof Html);
}

function cellHtml(cell: Cell, index: number): Html {
  const isText = typeof cell !== 'object' || cell instanceof Html;
  if (index === 0) return markup`<th scope="row">${isText ? cell : cell.number}</th>`;
  if (isText) return markup`<td>${cell}</td>`;
  const { number, shown = String(number), shade = 0 } = cell;
  if (shade === 0) return markup`<td class="number" data-value="${number}">${shown}</td>`;
  // Darker than this the number on it could no longer be read.
  const strength = (0.06 + 0.22 * Math.min(1, shade)).toFixed(3);
  return markup`<td class="number" data-value="${number}" style="background: rgba(var(--tint), ${strength})">${shown}</td>`;
}
