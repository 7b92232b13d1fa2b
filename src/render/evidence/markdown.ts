/** Plain text as Markdown shows it: nothing in it is markup. */
export function plain(text: string): string {
  return text.replaceAll(/[\\`*_{}[\]<>|#~]/g, (sign) => `\\${sign}`);
}

export function code(id: string): string {
  return `\`${id}\``;
}

/** Cells are Markdown; lines in a cell are parted by a break. */
export function table(head: readonly string[], rows: readonly (readonly string[])[]): readonly string[] {
  const line = (cells: readonly string[]): string => `| ${cells.map((cell) => cell || '–').join(' | ')} |`;
  return rows.length === 0 ? [] : [line(head), line(head.map(() => '---')), ...rows.map(line)];
}

export function bullets(items: readonly string[]): readonly string[] {
  return items.map((item) => `- ${item}`);
}

/** Parts of a page, parted by blank lines; a part without lines is left out. */
export function page(parts: readonly (readonly string[])[]): string {
  return `${parts
    .filter((part) => part.length > 0)
    .map((part) => part.join('\n'))
    .join('\n\n')}\n`;
}
