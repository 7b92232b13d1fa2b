import type { Card } from '../../render/card-types.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';

/** A card as a piece of a page: the same words as on the wire, in the few forms of markdown that cards use; labelled as what it is. */
export function cardHtml(
  { summary, detail, indicator }: Pick<Card, 'summary' | 'detail' | 'indicator'>,
  label: string = indicator,
): Html {
  return markup`<article class="card ${indicator}">
<h3><span class="label ${indicator}">${label}</span>${summary}</h3>
${detail.split('\n\n').map(blockHtml)}</article>
`;
}

/** A card that an earlier hook has told: by its summary only. */
export function sameCardHtml(
  { summary, indicator }: Pick<Card, 'summary' | 'indicator'>,
  hook: string,
): Html {
  return markup`<article class="card ${indicator}">
<h3><span class="label ${indicator}">${indicator}</span>${summary}</h3>
<p class="quiet">Word for word as at <a href="#${hook}">${hook}</a>.</p></article>
`;
}

function blockHtml(block: string): Html {
  const lines = block.split('\n');
  const items = lines.filter((line) => line.startsWith('- '));
  const text = lines.filter((line) => !line.startsWith('- ')).join(' ');
  const paragraph = text === '' ? undefined : markup`<p>${inlineHtml(text)}</p>`;
  const list =
    items.length === 0
      ? undefined
      : markup`<ul>${items.map((item) => markup`<li>${inlineHtml(item.slice(2))}</li>`)}</ul>`;
  return markup`${paragraph}${list}\n`;
}

/** Strong and emphasized parts; everything else is text. */
function inlineHtml(text: string): readonly Html[] {
  return text.split(/(\*\*[^*]+\*\*|\*[^*]+\*)/).map((part) => {
    if (/^\*\*[^*]+\*\*$/.test(part)) return markup`<strong>${part.slice(2, -2)}</strong>`;
    return /^\*[^*]+\*$/.test(part) ? markup`<em>${part.slice(1, -1)}</em>` : markup`${part}`;
  });
}
