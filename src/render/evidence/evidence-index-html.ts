import type { Entry, Rule, Rulebook } from '../../rulebook/types.js';
import { markup } from '../html.js';
import { HOOK_TITLES } from '../words.js';
import { pageTable, points } from './page-table.js';
import { printablePage } from './printable-page.js';
import type { PrintableSection } from './printable-page.js';

/** A service as an installation offers it, in plain words. */
export interface ToldService {
  readonly id: string;
  readonly hook: Entry;
  readonly title: string;
  readonly description: string;
  readonly usage: string;
  /** Whether it speaks here, and if not, why not. */
  readonly state: string;
}

export interface EvidenceIndexParts {
  readonly rulebook: Rulebook;
  readonly services: readonly ToldService[];
  readonly mode: 'development' | 'production';
}

/** What the service does, at which moments, what its silence means, and every rule with a link to its evidence. */
export function evidenceIndexHtml({ rulebook, services, mode }: EvidenceIndexParts): string {
  const { about } = rulebook;
  return printablePage({
    kind: about.label,
    title: 'What this service looks for, and on what evidence',
    about: [`${about.title}. ${rulebook.rules.length} rules, ${about.date}. Running in ${mode}.`],
    deferral: about.deferral,
    sections: [
      {
        id: 'workflows',
        title: 'When it is asked, and what it then does',
        body: services.map(
          ({
            id,
            hook,
            title,
            description,
            usage,
            state,
          }) => markup`<h3>${HOOK_TITLES[hook]} (<code>${hook}</code>)</h3>
<p><strong>${title}</strong></p>
<p>${description}</p>
<p>${usage}</p>
<p class="quiet">Service <code>${id}</code>; ${state}.</p>
`,
        ),
      },
      silence(rulebook),
      { id: 'limits', title: 'For whom, and for whom not', body: [points(about.limits ?? [])] },
      ...bySpeaking(rulebook),
      {
        id: 'versions',
        title: 'Versions of the rulebook',
        body: [
          pageTable({
            caption: 'What changed in each version',
            columns: ['Version', 'Date', 'What changed'],
            rows: about.changes.map(({ version, date, says }) => [version, date, says]),
          }),
        ],
      },
    ],
    footer: [rulebook.hash],
    root: '',
  });
}

function silence({ about }: Rulebook): PrintableSection {
  const { ceilings } = about;
  const most = Object.entries(ceilings).map(
    ([hook, count]) => `${HOOK_TITLES[hook as Entry].toLowerCase()} ${count}`,
  );
  return {
    id: 'silence',
    title: 'What silence means',
    body: [
      points([
        'No card is not clearance. It means that nothing this service looks for was found in what was sent.',
        'It is silent where a call is not about a hip replacement, in an emergency without such an operation, while the hip is being reduced or operated on, and for patients and relatives.',
        'What is not recorded is unknown and never taken as normal. A set of data that was not sent, or not wholly, may keep rules from telling; one card then says which.',
        'A card that was answered stays away until something it rests on changes; one about side or identity comes back every time.',
        `No answer shows more cards than a ceiling (${most.join(', ')}), critical ones apart; what is left out is named on one more card.`,
        'An installation may keep a service or a rule silent, or turn it off. A fresh one in production is silent everywhere until its clinicians have signed.',
      ]),
    ],
  };
}

function bySpeaking({ about, rules }: Rulebook): readonly PrintableSection[] {
  const groups = [
    { id: 'cards', title: 'Rules with a card', of: rules.filter(({ tells }) => tells === undefined) },
    {
      id: 'lines',
      title: 'Rules told as a line on another card',
      of: rules.filter(({ tells }) => tells === 'line'),
    },
    {
      id: 'pages',
      title: 'Rules told in an evaluation only',
      of: rules.filter(({ tells }) => tells === 'page'),
    },
  ];
  return groups
    .filter(({ of }) => of.length > 0)
    .map(({ id, title, of }) => ({
      id,
      title,
      body: [
        pageTable({
          caption: `${title}: what each says, and when`,
          columns: ['Rule', 'What it says', 'Speaks at', 'Review'],
          rows: of.map((rule) => [
            markup`<a href="${about.version}/${rule.id}">${rule.title}</a>`,
            rule.messages.fires,
            rule.entries.map((entry) => HOOK_TITLES[entry].toLowerCase()).join(', '),
            reviewOf(rule),
          ]),
        }),
      ],
    }));
}

function reviewOf({ review, reviewBy }: Rule): string {
  return review?.state === 'reviewed'
    ? `reviewed ${review.on}, again by ${reviewBy}`
    : `draft, to be reviewed by ${reviewBy}`;
}
