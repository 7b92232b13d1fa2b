function cell(text: string): string {
  return text.replaceAll('|', '\\|').replaceAll('<', '&lt;').replaceAll('*', '\\*');
}

/** A Markdown table; cells are plain text. */
export function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const line = (cells: readonly string[]): string => `| ${cells.map(cell).join(' | ')} |`;
  return [line(head), line(head.map(() => '---')), ...rows.map(line)].join('\n');
}
