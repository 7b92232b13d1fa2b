import type { ReadableNode } from '../../render/readable-tree.js';
import { TRUTH_TITLES } from '../../render/words.js';
import { markup } from '../../render/html.js';
import type { Html } from '../../render/html.js';

/** An explanation tree as nested lists, each node with its truth in words as well as in color. */
export function treeHtml(node: ReadableNode): Html {
  return markup`<ul class="tree">${nodeHtml(node)}</ul>`;
}

function nodeHtml({ truth, asked, found, notes, children }: ReadableNode): Html {
  const inner = children.length === 0 ? undefined : markup`<ul>${children.map(nodeHtml)}</ul>`;
  return markup`<li><span class="truth ${truth}">${TRUTH_TITLES[truth]}</span> ${asked}${found === undefined ? undefined : markup`; found <strong>${found}</strong>`}${notes.map((note) => markup`<span class="note">${note}</span>`)}${inner}</li>`;
}
