import { markup } from '../html.js';
import { printablePage } from './printable-page.js';

/** A page that says why there is no other, and where to go on. */
export function noticeHtml(title: string, says: string, root: string): string {
  const index = root === '' ? './' : root;
  return printablePage({
    kind: 'Kotyle',
    title,
    about: [],
    sections: [
      {
        id: 'why',
        title: 'Why',
        body: [
          markup`<p>${says}</p>\n<p><a href="${index}">All rules in force, and what the service does</a></p>\n`,
        ],
      },
    ],
    footer: [],
    root,
  });
}
