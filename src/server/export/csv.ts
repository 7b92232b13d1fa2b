/** RFC 4180: a cell that holds a separator, a quotation mark or a line break is quoted, its marks doubled. */
const NEEDS_QUOTES = /[",\r\n]/;
/** What a spreadsheet would take for a formula, in either width; a dash alone is none. */
const FORMULA = /^(?!-$)[=+\-@\t\r\n＝＋－＠]/;

export type Cell = string | number | boolean | undefined;

/** One row of a CSV file, without its line break. Texts that a spreadsheet would compute are made plain with `'`. */
export function csvRow(cells: readonly Cell[]): string {
  return cells.map(csvCell).join(',');
}

function csvCell(cell: Cell): string {
  if (cell === undefined) return '';
  const text = typeof cell === 'string' && FORMULA.test(cell) ? `'${cell}` : String(cell);
  return NEEDS_QUOTES.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
