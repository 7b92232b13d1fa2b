/** Text that is HTML already. Only `markup` makes it, so that nothing reaches a page unescaped. */
export class Html {
  constructor(readonly text: string) {}
}

type Part = Html | string | number | readonly Part[] | undefined;

/** A template of HTML: everything put in is escaped unless it came from a template itself; undefined is nothing. */
export function markup(strings: TemplateStringsArray, ...parts: readonly Part[]): Html {
  const text = strings.map((piece, index) => piece + textOf(parts[index])).join('');
  return new Html(text);
}

function textOf(part: Part): string {
  if (part === undefined) return '';
  if (part instanceof Html) return part.text;
  return typeof part === 'object' ? part.map(textOf).join('') : escapeHtml(String(part));
}

const ESCAPES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

export function escapeHtml(text: string): string {
  return text.replaceAll(/[&<>"']/g, (character) => ESCAPES[character] ?? character);
}
