import type { ExplainedNode } from './explain-rule.js';
import { HOOK_TITLES } from '../words.js';
import { groupWords } from './condition-words.js';
import type { EvidencePage, PageParameter } from './evidence-page.js';
import { bullets, code, page, plain, table } from './markdown.js';

/** An evidence page as Markdown: the eight blocks in their order, then the source attributes. */
export function evidenceMarkdown(evidence: EvidencePage): string {
  return page([
    ...headParts(evidence),
    ['## 1. Finding'],
    ...findingParts(evidence),
    ['## 2. Why'],
    ...whyParts(evidence),
    ['## 3. Options to consider'],
    ...optionParts(evidence),
    ['## 4. Strength'],
    ...strengthParts(evidence),
    ['## 5. Not known'],
    ...notKnownParts(evidence),
    ['## 6. Limits'],
    ...limitParts(evidence),
    ['## 7. Sources'],
    ...sourceParts(evidence),
    ['## 8. Footer'],
    ...footerParts(evidence),
    ['## Source attributes'],
    ['The 13 attributes of 45 CFR 170.315(b)(11)(iv)(A), the noes among them.'],
    table(
      ['No.', 'Attribute', 'Answer'],
      evidence.attributes.map(({ number, name, says }) => [
        String(number),
        plain(name),
        says.map(plain).join('<br>'),
      ]),
    ),
    ['## Answers to its card'],
    ...answerParts(evidence),
  ]);
}

function headParts(evidence: EvidencePage): readonly (readonly string[])[] {
  const { rule, version, title, type, intent, indicator, entries, tells, yieldsTo } = evidence;
  const spoken = entries.map((entry) => HOOK_TITLES[entry].toLowerCase()).join(', ');
  return [
    [`# ${plain(title)}`],
    ['<!-- Written by `npm run catalogue` from the rulebook; changes made here are lost. -->'],
    [
      `${code(rule)} ${version} · ${type}, ${intent} · ${indicator} · ${TOLD[tells ?? 'card']} · speaks at: ${spoken}`,
    ],
    yieldsTo.length === 0
      ? []
      : [
          `Its card leaves the word, for the same hip, to that of ${yieldsTo.map((other) => `[${plain(other.title)}](${other.rule}.md)`).join(', ')}.`,
        ],
  ];
}

function findingParts({ finding, outcomes }: EvidencePage): readonly (readonly string[])[] {
  return [
    [plain(finding.says)],
    ['In ‹…› stands what comes from the patient’s record or is worked out from it.'],
    ['What it says was noticed, after side and stage:'],
    bullets(finding.wordings.map(plain)),
    ['### The four outcomes'],
    bullets([
      `fires: ${plain(outcomes.fires)}`,
      `does not fire: ${plain(outcomes.doesNotFire)}`,
      `cannot tell: ${plain(outcomes.cannotTell)}`,
      `not applicable: ${plain(outcomes.notApplicable)}`,
    ]),
  ];
}

function whyParts({ why }: EvidencePage): readonly (readonly string[])[] {
  const told = new Set<string>();
  return [
    ['### It applies when'],
    treeLines(why.applies, told, 0),
    ['### It fires when'],
    treeLines(why.fires, told, 0),
    [
      '“Clearly” means: beyond the measuring error of the method. What is not recorded is not taken as normal.',
    ],
    ...(why.groups.length === 0 ? [] : [['### Groups that choose words and options']]),
    why.groups.flatMap((group) => treeLines(group, told, 0)),
    ...(why.limits.length === 0 ? [] : [['### Limits and other numbers it names']]),
    parameterTable(why.limits),
    ['### Facts and numbers it reads'],
    bullets(
      why.reads.map(({ id, title, from, assumes }) =>
        [
          `${plain(title)} (${code(id)})`,
          ...(from ? [`worked out from ${plain(from.join(', '))}`] : []),
          ...(assumes && assumes.length > 0 ? [`taken where not known: ${plain(assumes.join('; '))}`] : []),
        ].join('; '),
      ),
    ),
  ];
}

/** A tree as nested bullets; a named group told before is not told again. */
function treeLines(
  { asked, name, parameter, children }: ExplainedNode,
  told: Set<string>,
  level: number,
): readonly string[] {
  const indent = '  '.repeat(level);
  const isGroup = name !== undefined && children.length > 0;
  if (isGroup && told.has(name)) return [`${indent}- ${plain(groupWords(name))}, as above`];
  if (isGroup) told.add(name);
  const named = name === undefined ? '' : `${plain(groupWords(name))}: `;
  const limit = parameter === undefined ? '' : ` (limit ${code(parameter)})`;
  return [
    `${indent}- ${named}${plain(asked)}${limit}`,
    ...children.flatMap((child) => treeLines(child, told, level + 1)),
  ];
}

export function parameterTable(parameters: readonly PageParameter[]): readonly string[] {
  return table(
    ['Parameter', 'Value', 'Use', 'Read at', 'Certainty', 'Sources', 'Why'],
    parameters.map(({ id, value, use, readAt, certainty, sources, why }) => [
      code(id),
      plain(value),
      use,
      readAt,
      certainty,
      plain(sources.join('; ')),
      plain(why),
    ]),
  );
}

function optionParts({ options }: EvidencePage): readonly (readonly string[])[] {
  return [
    ['Unordered unless an item says so. The first set that fits is told.'],
    ...options.flatMap(({ where, options: offered, checks, before, ready }, index) => [
      [`**${index + 1}. ${plain(where)}**`],
      bullets([
        ...offered.map(plain),
        ...checks.map((text) => `to check: ${plain(text)}`),
        ...before.map((text) => `before surgery: ${plain(text)}`),
        ...(ready === undefined ? [] : [`have ready: ${plain(ready)}`]),
      ]),
    ]),
  ];
}

function strengthParts({ strength }: EvidencePage): readonly (readonly string[])[] {
  const { grades, why, told, effects } = strength;
  return [
    bullets([...grades.map(({ of, grade }) => `${of}: ${grade}`), plain(why)]),
    [`In its own words: ${plain(told.join(' · '))}.`],
    effects.length === 0
      ? ['No effect is listed.']
      : ['Effects are listed, never combined: they overlap and do not add.'],
    ...effects.flatMap(({ endpoint, lines }) => [
      [`### Endpoint: ${endpoint}`],
      table(
        ['Effect', 'Interval', 'Horizon', 'Population', 'Shown where', 'Sources'],
        lines.map(({ says, interval, horizon, population, where, sources }) => [
          plain(says),
          plain(interval),
          plain(horizon),
          plain(population),
          plain(where),
          plain(sources.join('; ')),
        ]),
      ),
    ]),
  ];
}

function notKnownParts({ notKnown }: EvidencePage): readonly (readonly string[])[] {
  const { says, told, wouldChange } = notKnown;
  return [
    [plain(says)],
    [`Knowing one of these may change or settle the outcome: ${plain(wouldChange.join(', '))}.`],
    told.length === 0 ? [] : [`Its card says so where these are not known: ${plain(told.join(', '))}.`],
  ];
}

function limitParts({ limits }: EvidencePage): readonly (readonly string[])[] {
  return [
    limits.rule.length === 0 ? [] : ['Of this rule:'],
    bullets(limits.rule.map(plain)),
    limits.models.length === 0 ? [] : ['Of what it computes:'],
    bullets(limits.models.map(({ title, limits: left }) => `${plain(title)}: ${plain(left.join('; '))}`)),
    ['Of every rule:'],
    bullets(limits.all.map(plain)),
  ];
}

function sourceParts({ sources, basis }: EvidencePage): readonly (readonly string[])[] {
  return [
    basis === undefined ? [] : [`Basis: ${plain(basis)}.`],
    table(
      ['Source', 'Reference', 'Read at', 'Where', 'For'],
      sources.map(({ short, reference, readAt, where, supports }) => [
        plain(short),
        plain(reference),
        readAt,
        plain(where),
        plain(supports.join('; ')),
      ]),
    ),
  ];
}

function footerParts({ footer }: EvidencePage): readonly (readonly string[])[] {
  const { rule, rulebook, review, reviewBy, engine, deferral } = footer;
  return [
    bullets([
      `rule: ${plain(rule)}`,
      `rulebook: ${plain(rulebook)}`,
      `last review: ${plain(review)}; to be reviewed by ${reviewBy}`,
      `engine: ${engine}`,
    ]),
    [plain(deferral)],
  ];
}

const TOLD = {
  card: 'a card',
  line: 'a line on another card of the same hip, never a card',
  page: 'on this page only, never a card',
} as const;

function answerParts({ answers, tells }: EvidencePage): readonly (readonly string[])[] {
  if (tells !== undefined) return [['It has no card, so there is nothing to answer.']];
  return [
    [`A reader may answer “${plain(answers.kept)}” or “${plain(answers.review)}”, or pass it over because:`],
    bullets(answers.reasons.map(plain)),
  ];
}
