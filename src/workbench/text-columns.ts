/** Rows of a table for a terminal: columns as wide as their widest cell, two blanks between, the first to the right. */
export function textColumns(rows: readonly (readonly string[])[]): string {
  const widths = rows.reduce<readonly number[]>(
    (widest, row) => row.map((cell, index) => Math.max(cell.length, widest[index] ?? 0)),
    [],
  );
  return rows
    .map((row) =>
      row
        .map((cell, index) => (index === 0 ? cell.padStart(widths[0] ?? 0) : cell.padEnd(widths[index] ?? 0)))
        .join('  ')
        .trimEnd(),
    )
    .map((line) => `  ${line}`)
    .join('\n');
}
