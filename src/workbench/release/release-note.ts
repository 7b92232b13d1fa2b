import type { Rule, Rulebook } from '../../rulebook/types.js';
import { readableWords } from '../../render/evidence/readable-words.js';
import { bullets, code, page, plain, table } from '../../render/evidence/markdown.js';
import type { HazardLog } from '../../rulebook/hazard-schema.js';

/** What is told beside the rules themselves: what is still open, and who has read them. */
export interface NoteInput {
  readonly rulebook: Rulebook;
  readonly hash: string;
  readonly hazards: HazardLog;
}

/** The note that goes with a released rulebook: what changed, and which advice exists for whom. */
export function releaseNote({ rulebook, hash, hazards }: NoteInput): string {
  const { about } = rulebook;
  return page([
    [`# ${plain(about.title)}, ${about.version}`],
    ['<!-- Written by `npm run release`; never edited. -->'],
    [`${about.date}, ${about.status}${about.experimental ? ', experimental' : ''}, ${code(hash)}.`],
    ['## What changed'],
    bullets(about.changes.filter(({ version }) => version === about.version).map(({ says }) => plain(says))),
    ...forWhom(rulebook),
    ['## Who has read it'],
    bullets([readBy(rulebook), plain(about.developer), `Funding: ${plain(about.funding)}.`]),
    ['## What holds for every rule'],
    bullets((about.limits ?? []).map(plain)),
    ['## Hazards without a full control'],
    bullets(
      hazards.hazards
        .filter(({ status }) => status === 'open')
        .map(({ id, hazard }) => `${id}: ${plain(hazard)}`),
    ),
  ]);
}

interface Readers {
  readonly title: string;
  readonly why: string;
  readonly hears: (rule: Rule) => boolean;
}

const AT_ORDER = ['order-select', 'order-sign'] as const;

const READERS: readonly Readers[] = [
  {
    title: 'Whoever books the operation',
    why: 'Cards in words of logistics: what to obtain before surgery and what to have ready. No choice of implant.',
    hears: ({ entries, tells }) => tells === undefined && entries.includes('appointment-book'),
  },
  {
    title: 'The surgeon who orders and signs',
    why: 'Cards about the planned replacement, each with options, how sure they are and what is not known.',
    hears: ({ entries, tells }) => tells === undefined && AT_ORDER.some((entry) => entries.includes(entry)),
  },
  {
    title: 'Whoever opens the chart',
    why: 'Cards about a replacement in place that gives reason, or about one that is planned.',
    hears: ({ entries, tells }) => tells === undefined && entries.includes('patient-view'),
  },
  {
    title: 'A line on another card',
    why: 'Worth a line beside a card of the same hip, and never a card of its own.',
    hears: ({ tells }) => tells === 'line',
  },
  {
    title: 'The page only',
    why: 'Evaluated and told on the evaluation page, on no card.',
    hears: ({ tells }) => tells === 'page',
  },
];

function forWhom(rulebook: Rulebook): readonly (readonly string[])[] {
  return READERS.flatMap(({ title, why, hears }) => {
    const rules = rulebook.rules.filter(hears);
    return [
      [`## ${title}`],
      [`${why} ${rules.length} rules.`],
      table(
        ['Rule', 'Speaks where', 'How loud', 'Certain'],
        rules.map((rule) => [
          `${code(rule.id)} ${rule.version}`,
          plain(readableWords(rule.messages.fires, rule, rulebook)),
          rule.indicator,
          certainty(rule),
        ]),
      ),
    ];
  });
}

function certainty({ certainty: { mechanism, prognosis, treatment } }: Rule): string {
  return [
    ...(mechanism === undefined ? [] : [`mechanism: ${mechanism}`]),
    ...(prognosis === undefined ? [] : [`prognosis: ${prognosis}`]),
    ...(treatment === undefined ? [] : [`treatment: ${treatment}`]),
  ].join(', ');
}

function readBy({ rules }: Rulebook): string {
  const reviewed = rules.filter(({ review }) => review?.state === 'reviewed').length;
  return `Of ${rules.length} rules a clinician has reviewed ${reviewed === 0 ? 'none' : String(reviewed)}.`;
}
