import { formatDate } from '../../base/dates.js';
import type { Card } from '../../render/card-types.js';
import type { ReadableNode } from '../../render/readable-tree.js';
import type { ReadableHip, ReadableRule } from './readable-hip.js';
import type { ReadableEvaluation, ReadableHook } from './readable.js';
import { HOOK_TITLES, OUTCOME_TITLES } from '../../render/words.js';

const WIDTH = 110;

/**
 * An evaluation for a terminal: the cards of each hook, then for each hip what every rule found with its tree, what is
 * missing, and what everything rests on. `cardText` prints one card.
 */
export function evaluationText(
  evaluation: ReadableEvaluation,
  cardText: (card: Card) => string,
  record: string,
): string {
  const { rulebook, engine, site, patientId, now, hooks, hips, notRead, citations } = evaluation;
  const parts = [
    [
      `${rulebook.label}, engine ${engine}${site ? `, site ${site.id} ${site.version}` : ''}`,
      rulebook.hash,
      `Patient ${patientId}, as of ${formatDate(now)} ${now.slice(11, 16)} UTC. ${record}`,
    ].join('\n'),
    ...hooks.map((hook) => hookText(hook, cardText)),
    ...hips.map(hipText),
    ...listText('Not wholly read, or not used', notRead),
    ...listText(
      'Sources of the rules that spoke or could not tell',
      citations.map(
        ({ text, readAt, doi }) => `${text}${doi === undefined ? '' : `. doi:${doi}`} (${readAt})`,
      ),
    ),
    wrap(rulebook.deferral, 0),
  ];
  return `${parts.join('\n\n')}\n`;
}

function hookText({ hook, cards, pageOnly, kept }: ReadableHook, cardText: (card: Card) => string): string {
  const count = cards.length === 0 ? 'no card' : cards.length === 1 ? '1 card' : `${cards.length} cards`;
  return [
    heading(`${HOOK_TITLES[hook]} (${hook}): ${count}`),
    ...(cards.length === 0 ? ['No card is not clearance: what could not be told stands below.'] : []),
    ...cards.map(({ card, sameAs }) =>
      sameAs === undefined
        ? cardText(card)
        : wrap(`[${card.indicator}] ${card.summary} (word for word as at ${sameAs})`, 0),
    ),
    ...(pageOnly.length === 0 ? [] : ['On the page only, on no card:', ...pageOnly.map(cardText)]),
    ...listText('Left out of the answer', kept),
  ].join('\n\n');
}

function hipText(hip: ReadableHip): string {
  const { title, hook, rules, otherwise, facts, computed, missing, findings } = hip;
  return [
    heading(`${title}: what each rule found (${hook})`),
    ...rules.map(ruleText),
    ...listText(
      'Otherwise at another hook, which reads other sets',
      otherwise.map(({ rule, hook: other, outcome }) => `${rule} at ${other}: ${OUTCOME_TITLES[outcome]}`),
    ),
    ...listText(
      'Facts',
      facts.map(
        ({ title: name, value, from, doubts }) =>
          `${name}: ${[value, from, ...doubts].filter(isSaid).join(' · ')}`,
      ),
    ),
    ...listText(
      'Computed',
      computed
        .filter(({ value }) => value !== 'not known')
        .map(
          ({ title: name, value, inputs, doubts }) =>
            `${name}: ${[value, inputs === '' ? '' : `from ${inputs}`, ...doubts].filter(isSaid).join(' · ')}`,
        ),
    ),
    ...listText(
      'Missing, by how many outcomes it would help to settle',
      missing.map(
        ({ title: name, rules: all, alone }) =>
          `${name}: ${all.length} (alone ${alone.length}): ${all.join(', ')}`,
      ),
    ),
    ...listText(
      'Wrong with the record',
      findings.map(({ text, from }) => `${text}${from.length === 0 ? '' : ` (${from.join(', ')})`}`),
    ),
  ].join('\n\n');
}

function isSaid(text: string): boolean {
  return text !== '';
}

function ruleText(rule: ReadableRule): string {
  const {
    outcome,
    rule: id,
    version,
    title,
    says,
    needs,
    broken,
    appliesWhen,
    when,
    numbers,
    assumptions,
    causes,
  } = rule;
  const head = `${OUTCOME_TITLES[outcome].toUpperCase()}  ${id} ${version}: ${title}`;
  const lines = [
    ...(broken ? ['could not be evaluated: the rule or a computation it needs is broken'] : []),
    says,
    ...(needs.length === 0 ? [] : [`missing: ${needs.join(', ')}`]),
    ...(numbers.length === 0 ? [] : [`numbers its card shows: ${numbers.join('; ')}`]),
    ...(assumptions.length === 0 ? [] : [`assumed: ${assumptions.join('; ')}`]),
    ...causes.map((cause) => `cause: ${cause}`),
  ];
  // Whether a rule that does not apply would fire says nothing.
  const trees = [
    ...(appliesWhen ? ['applies when', ...treeLines(appliesWhen, 2)] : []),
    ...(when && outcome !== 'not-applicable' ? ['fires when', ...treeLines(when, 2)] : []),
  ];
  return [wrap(head, 0), ...lines.map((line) => wrap(line, 2)), ...trees.map((line) => `  ${line}`)].join(
    '\n',
  );
}

const MARKS = { true: '[yes]', false: '[no ]', unknown: '[ ? ]' } as const;

function treeLines(node: ReadableNode, indent: number): readonly string[] {
  const { truth, asked, found, notes, children } = node;
  const own = [
    `${MARKS[truth]} ${asked}${found === undefined ? '' : `; found ${found}`}`,
    ...notes.map((note) => `      ${note}`),
  ];
  const pad = ' '.repeat(indent);
  return [...own.map((line) => pad + line), ...children.flatMap((child) => treeLines(child, indent + 2))];
}

function listText(title: string, items: readonly string[]): readonly string[] {
  if (items.length === 0) return [];
  return [[`${title}:`, ...items.map((item) => wrap(`- ${item}`, 2))].join('\n')];
}

function heading(text: string): string {
  return `${text}\n${'-'.repeat(text.length)}`;
}

/** Breaks a text at blanks; what follows the first line stands further in. */
function wrap(text: string, indent: number): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    const longer = line === '' ? word : `${line} ${word}`;
    if (line !== '' && longer.length > WIDTH - indent) {
      lines.push(line);
      line = word;
    } else line = longer;
  }
  lines.push(line);
  const pad = ' '.repeat(indent);
  return lines.map((each, index) => (index === 0 ? pad : `${pad}    `) + each).join('\n');
}
