import { createHash } from 'node:crypto';
import { Html, markup } from '../../render/html.js';
import { PAGE_STYLE } from '../../render/page-style.js';
import { SORT_SCRIPT } from './sort-script.js';

export interface PageParts {
  /** What kind of report it is, above the title. */
  readonly kind: string;
  readonly title: string;
  /** Lines below the title. */
  readonly about: readonly Html[];
  /** What stands in every report: who decides. */
  readonly deferral: string;
  readonly sections: readonly Section[];
  readonly footer: readonly string[];
}

export interface Section {
  readonly id: string;
  readonly title: string;
  readonly body: Html;
}

/** One self-contained HTML file: no address is asked, nothing runs but the sorting of tables. */
export function page({ kind, title, about, deferral, sections, footer }: PageParts): string {
  const { text } = markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${policy()}">
<title>${title} · ${kind}</title>
<style>${new Html(PAGE_STYLE)}</style>
</head>
<body>
<header>
<p class="kind">${kind}</p>
<h1>${title}</h1>
${about.map((line) => markup`<p class="quiet">${line}</p>\n`)}<p class="deferral">${deferral}</p>
<nav aria-label="Sections"><ul>${sections.map(link)}</ul></nav>
</header>
<main>
${sections.map(sectionHtml)}</main>
<footer>
<p>${deferral}</p>
${footer.map((line) => markup`<p>${line}</p>\n`)}</footer>
${new Html(`<script>${SORT_SCRIPT}</script>`)}
</body>
</html>
`;
  return text;
}

/** Nothing may be loaded, and only the script written here may run. */
function policy(): string {
  const script = createHash('sha256').update(SORT_SCRIPT).digest('base64');
  return `default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-${script}'`;
}

function link({ id, title }: Section): Html {
  return markup`<li><a href="#${id}">${title}</a></li>`;
}

function sectionHtml({ id, title, body }: Section): Html {
  return markup`<section id="${id}" aria-labelledby="${id}-title">
<h2 id="${id}-title">${title}</h2>
${body}
</section>
`;
}
