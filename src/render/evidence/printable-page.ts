import { markup } from '../html.js';
import type { Html } from '../html.js';
import { PAGE_STYLE } from '../page-style.js';

export interface PrintableParts {
  /** What kind of page it is, above the title. */
  readonly kind: string;
  readonly title: string;
  /** Lines below the title. */
  readonly about: readonly (string | Html)[];
  /** Who decides; stands on every page that tells of a rule. */
  readonly deferral?: string;
  readonly sections: readonly PrintableSection[];
  readonly footer: readonly (string | Html)[];
  /** The way from this page to the folder of the pages: empty, or ending in a slash. */
  readonly root: string;
}

export interface PrintableSection {
  readonly id: string;
  readonly title: string;
  readonly body: readonly (Html | undefined)[];
}

/** The name of the stylesheet, in the folder of the pages. */
export const STYLE_NAME = 'style.css';

/** A page that runs nothing and asks for nothing but its stylesheet, on a screen as on paper. */
export function printablePage(parts: PrintableParts): string {
  const { kind, title, about, deferral, sections, footer, root } = parts;
  return markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>${title} · ${kind}</title>
<link rel="stylesheet" href="${root}${STYLE_NAME}">
</head>
<body>
<header>
<p class="kind">${kind}</p>
<h1>${title}</h1>
${about.map((line) => markup`<p class="quiet">${line}</p>\n`)}${deferral === undefined ? undefined : markup`<p class="deferral">${deferral}</p>`}
${sections.length > 1 ? markup`<nav aria-label="Sections"><ul>${sections.map(sectionLink)}</ul></nav>` : undefined}
</header>
<main>
${sections.map(sectionHtml)}</main>
<footer>
${footer.map((line) => markup`<p>${line}</p>\n`)}</footer>
</body>
</html>
`.text;
}

function sectionLink({ id, title }: PrintableSection): Html {
  return markup`<li><a href="#${id}">${title}</a></li>`;
}

function sectionHtml({ id, title, body }: PrintableSection): Html {
  return markup`<section id="${id}" aria-labelledby="${id}-title">
<h2 id="${id}-title">${title}</h2>
${body}</section>
`;
}

/** The look of the reports, and what a page needs on paper: the size of a sheet, nothing cut off or torn apart. */
export const PRINTABLE_STYLE = `${PAGE_STYLE}
main ul { margin: 0.4rem 0; padding-left: 1.3rem; }
main li { margin: 0.15rem 0; max-width: 62rem; overflow-wrap: break-word; }
dl.outcomes { display: grid; grid-template-columns: max-content 1fr; gap: 0.3rem 1rem; margin: 0.5rem 0; }
dl.outcomes dt { font-weight: 600; }
dl.outcomes dd { margin: 0; }
@media (max-width: 40rem) { dl.outcomes { grid-template-columns: 1fr; } }
@media print {
  @page { size: A4; margin: 16mm 14mm; }
  :root { --line: #999999; --quiet: #333333; }
  header, main, footer { max-width: none; padding: 0; }
  h1 { font-size: 16pt; }
  h2 { font-size: 13pt; margin-top: 1.2rem; break-after: avoid; }
  h3 { font-size: 11pt; margin: 0.9rem 0 0.3rem; }
  h3, caption { break-after: avoid; }
  .deferral { background: none; }
  table { font-size: 8.5pt; }
  /* Not anywhere: that would let a column shrink to a letter. */
  th, td { overflow-wrap: break-word; padding: 0.2rem 0.4rem; }
  td code, th code { white-space: normal; overflow-wrap: break-word; }
  thead { display: table-header-group; }
  a { color: inherit; text-decoration: none; }
  li { break-inside: avoid; }
}
`;
