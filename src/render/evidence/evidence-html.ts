import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { markup } from '../html.js';
import type { Html } from '../html.js';
import { HOOK_TITLES } from '../words.js';
import { groupWords } from './condition-words.js';
import type { EvidencePage, PageParameter } from './evidence-page.js';
import type { ExplainedNode } from './explain-rule.js';
import { localDecisions } from './local-decisions.js';
import { pageTable, points } from './page-table.js';
import { printablePage } from './printable-page.js';
import type { PrintableSection } from './printable-page.js';

export interface EvidenceHtmlParts {
  readonly rulebook: Rulebook;
  /** The installation the page is shown by, when it is of the rulebook in force. */
  readonly site?: Site;
  /** Set when the page is of a rulebook that is no longer in force: the one that is. */
  readonly replacedBy?: string;
}

/** An evidence page for reading and printing: what is behind one rule, without a word about any patient. */
export function evidenceHtml(page: EvidencePage, { rulebook, site, replacedBy }: EvidenceHtmlParts): string {
  const local = site ? localDecisions(page, site, rulebook) : [];
  const sections: readonly PrintableSection[] = [
    { id: 'finding', title: 'What it says', body: findingBody(page) },
    { id: 'why', title: 'When it says so', body: whyBody(page) },
    { id: 'options', title: 'Options to consider', body: optionBody(page) },
    { id: 'strength', title: 'How sure it is', body: strengthBody(page) },
    { id: 'not-known', title: 'What is not known', body: notKnownBody(page) },
    { id: 'limits', title: 'What was not studied, and other limits', body: limitBody(page) },
    { id: 'sources', title: 'Sources', body: sourceBody(page) },
    { id: 'versions', title: 'Versions and review', body: versionBody(page, rulebook) },
    ...(local.length === 0
      ? []
      : [{ id: 'here', title: 'What this installation decided', body: [points(local)] }]),
    { id: 'attributes', title: 'Source attributes', body: attributeBody(page) },
    { id: 'answers', title: 'Answers to its card', body: answerBody(page) },
  ];
  return printablePage({
    kind: `Evidence page · ${rulebook.about.label}`,
    title: page.title,
    about: [
      markup`<code>${page.rule}</code> ${page.version} · ${page.type}, ${page.intent} · ${page.indicator} · ${TOLD[page.tells ?? 'card']} · speaks at: ${page.entries.map((entry) => HOOK_TITLES[entry].toLowerCase()).join(', ')}`,
      ...(replacedBy === undefined
        ? []
        : [markup`<strong>Of an earlier rulebook. In force is ${replacedBy}.</strong>`]),
      ...(page.yieldsTo.length === 0
        ? []
        : [
            `Its card leaves the word, for the same hip, to: ${page.yieldsTo.map(({ title }) => title).join('; ')}.`,
          ]),
    ],
    deferral: rulebook.about.deferral,
    sections,
    footer: [
      `Rule ${page.footer.rule}; ${page.footer.rulebook}; engine ${page.footer.engine}.`,
      rulebook.hash,
      markup`<a href="../">All rules, and what the service does</a>`,
    ],
    root: '../',
  });
}

const TOLD = {
  card: 'a card',
  line: 'a line on another card of the same hip, never a card',
  page: 'told in an evaluation only, never on a card',
} as const;

type Body = readonly (Html | undefined)[];

function paragraph(text: string | Html): Html {
  return markup`<p>${text}</p>\n`;
}

function heading(text: string): Html {
  return markup`<h3>${text}</h3>\n`;
}

function findingBody({ finding, outcomes }: EvidencePage): Body {
  const all = [
    ['fires', outcomes.fires],
    ['does not fire', outcomes.doesNotFire],
    ['cannot tell', outcomes.cannotTell],
    ['not applicable', outcomes.notApplicable],
  ] as const;
  return [
    paragraph(finding.says),
    paragraph('In ‹…› stands what comes from the patient’s record or is worked out from it.'),
    points(finding.wordings),
    heading('The four outcomes'),
    markup`<dl class="outcomes">${all.map(([name, says]) => markup`<dt>${name}</dt><dd>${says}</dd>`)}</dl>\n`,
  ];
}

function whyBody({ why }: EvidencePage): Body {
  const told = new Set<string>();
  return [
    heading('It applies when'),
    tree([why.applies], told),
    heading('It fires when'),
    tree([why.fires], told),
    paragraph(
      '“Clearly” means: beyond the measuring error of the method. What is not recorded is not taken as normal.',
    ),
    ...(why.groups.length === 0
      ? []
      : [heading('Groups that choose words and options'), tree(why.groups, told)]),
    ...(why.limits.length === 0
      ? []
      : [heading('Limits and other numbers it names'), parameterTable(why.limits)]),
    heading('Facts and numbers it reads'),
    points(
      why.reads.map(({ id, title, from, assumes = [] }) => {
        const worked = from ? `; worked out from ${from.join(', ')}` : '';
        const taken = assumes.length > 0 ? `; taken where not known: ${assumes.join('; ')}` : '';
        return markup`${title} (<code>${id}</code>)${worked}${taken}`;
      }),
    ),
  ];
}

/** Conditions as a list in lists; a named group told before is not told again. */
function tree(nodes: readonly ExplainedNode[], told: Set<string>): Html {
  return markup`<ul class="tree">${nodes.map((node) => treeItem(node, told))}</ul>\n`;
}

function treeItem({ asked, name, parameter, children }: ExplainedNode, told: Set<string>): Html {
  const isGroup = name !== undefined && children.length > 0;
  if (isGroup && told.has(name)) return markup`<li>${groupWords(name)}, as above</li>`;
  if (isGroup) told.add(name);
  const named = name === undefined ? '' : `${groupWords(name)}: `;
  const limit = parameter === undefined ? undefined : markup` (limit <code>${parameter}</code>)`;
  return markup`<li>${named}${asked}${limit}${children.length === 0 ? undefined : tree(children, told)}</li>`;
}

function parameterTable(parameters: readonly PageParameter[]): Html | undefined {
  return pageTable({
    caption: 'Parameters, with the sources each was taken from',
    columns: ['Parameter', 'Value', 'Use', 'Read at', 'Certainty', 'Sources', 'Why'],
    rows: parameters.map(({ id, value, use, readAt, certainty, sources, why }) => [
      markup`<code>${id}</code>`,
      value,
      use,
      readAt,
      certainty,
      sources,
      why,
    ]),
  });
}

function optionBody({ options }: EvidencePage): Body {
  return [
    paragraph('Unordered unless an item says so. The first set that fits is told.'),
    ...options.flatMap(({ where, options: offered, checks, before, ready }, index) => [
      heading(`${index + 1}. ${where}`),
      points([
        ...offered,
        ...checks.map((text) => `to check: ${text}`),
        ...before.map((text) => `before surgery: ${text}`),
        ...(ready === undefined ? [] : [`have ready: ${ready}`]),
      ]),
    ]),
  ];
}

function strengthBody({ strength }: EvidencePage): Body {
  const { grades, why, told, effects } = strength;
  return [
    points([...grades.map(({ of, grade }) => `${of}: ${grade}`), why]),
    paragraph(`In its own words: ${told.join(' · ')}.`),
    paragraph(
      effects.length === 0
        ? 'No effect is listed.'
        : 'Effects are listed, never combined: they overlap and do not add.',
    ),
    ...effects.map(({ endpoint, lines }) =>
      pageTable({
        caption: `Effects on: ${endpoint}`,
        columns: ['Effect', 'Interval', 'Horizon', 'Population', 'Shown where', 'Sources'],
        rows: lines.map(({ says, interval, horizon, population, where, sources }) => [
          says,
          interval,
          horizon,
          population,
          where,
          sources,
        ]),
      }),
    ),
  ];
}

function notKnownBody({ notKnown }: EvidencePage): Body {
  const { says, told, wouldChange } = notKnown;
  return [
    paragraph(says),
    paragraph(`Knowing one of these may change or settle the outcome: ${wouldChange.join(', ')}.`),
    told.length === 0
      ? undefined
      : paragraph(`Its card says so where these are not known: ${told.join(', ')}.`),
  ];
}

function limitBody({ limits }: EvidencePage): Body {
  return [
    ...(limits.rule.length === 0 ? [] : [heading('Of this rule'), points(limits.rule)]),
    ...(limits.models.length === 0
      ? []
      : [
          heading('Of what it computes'),
          points(limits.models.map(({ title, limits: left }) => `${title}: ${left.join('; ')}`)),
        ]),
    heading('Of every rule'),
    points(limits.all),
  ];
}

function sourceBody({ sources, basis }: EvidencePage): Body {
  return [
    basis === undefined ? undefined : paragraph(`Basis: ${basis}.`),
    pageTable({
      caption: 'What the rule, its numbers and its effects were taken from',
      columns: ['Source', 'Reference', 'Read at', 'Where', 'For'],
      rows: sources.map(({ short, reference, readAt, where, supports }) => [
        short,
        reference,
        readAt,
        where,
        supports,
      ]),
    }),
  ];
}

function versionBody({ footer, attributes }: EvidencePage, { about }: Rulebook): Body {
  const dates = attributes.find(({ number }) => number === 4)?.says ?? [];
  return [
    points([...dates, `review: ${footer.review}`]),
    pageTable({
      caption: 'Versions of the rulebook',
      columns: ['Version', 'Date', 'What changed'],
      rows: about.changes.map(({ version, date, says }) => [version, date, says]),
    }),
  ];
}

function attributeBody({ attributes }: EvidencePage): Body {
  return [
    paragraph('The 13 attributes of 45 CFR 170.315(b)(11)(iv)(A), the noes among them.'),
    pageTable({
      caption: 'What is said of each attribute',
      columns: ['Attribute', 'Answer'],
      rows: attributes.map(({ number, name, says }) => [`${number}. ${name}`, says]),
    }),
  ];
}

function answerBody({ answers, tells }: EvidencePage): Body {
  if (tells !== undefined) return [paragraph('It has no card, so there is nothing to answer.')];
  return [
    paragraph(`A reader may answer “${answers.kept}” or “${answers.review}”, or pass it over because:`),
    points(answers.reasons),
  ];
}
