import { HOOK_TITLES } from '../../render/words.js';
import type {
  ExplainedFinding,
  ExplainedNode,
  ExplainedParameter,
  ExplainedRule,
} from '../../render/evidence/explain-rule.js';

/** A rule in words for a terminal. */
export function explainText(explained: ExplainedRule, deferral: string): string {
  const { rule, version, title, type, intent, indicator, entries, reviewBy, outcomes, certainty, basis } =
    explained;
  const { mechanism, prognosis, treatment, why } = certainty;
  const grades = [
    ...(mechanism === undefined ? [] : [`mechanism: ${mechanism}`]),
    ...(prognosis === undefined ? [] : [`prognosis: ${prognosis}`]),
    ...(treatment === undefined ? [] : [`treatment: ${treatment}`]),
  ];
  const words: TreeWords = { parameters: explained.parameters, told: new Set() };
  const parts = [
    [
      title,
      `${rule} ${version} · ${type}, ${intent} · ${indicator} · review by ${reviewBy}`,
      `Speaks at: ${entries.map((entry) => `${HOOK_TITLES[entry].toLowerCase()} (${entry})`).join(', ')}`,
    ].join('\n'),
    ['It applies when', ...treeLines(explained.appliesWhen, words, 1)].join('\n'),
    ['It fires when', ...treeLines(explained.firesWhen, words, 1)].join('\n'),
    section('What each outcome says', [
      `fires: ${outcomes.fires}`,
      `does not fire: ${outcomes.doesNotFire}`,
      `cannot tell: ${outcomes.cannotTell}`,
      `not applicable: ${outcomes.notApplicable}`,
    ]),
    ...explained.findings.map((finding) => findingText(finding, words)),
    section(
      'Effects it lists, never combined',
      explained.effects.map(
        ({ when, says, citations }) => `where ${when}: ${says} [${citations.join(', ')}]`,
      ),
    ),
    section(
      'Parameters',
      explained.parameters.map(
        (parameter) =>
          `${parameter.id}: ${valueText(parameter)}; ${parameter.use}, read at: ${parameter.readAt}, certainty ${parameter.certainty}${parameter.citations.length === 0 ? '' : ` [${parameter.citations.join(', ')}]`}. ${parameter.why}`,
      ),
    ),
    section(
      'It asks for',
      explained.asks.map(
        ({ id, title: name, inputs }) =>
          `${name} (${id})${inputs ? `, computed from ${inputs.join(', ')}` : ''}`,
      ),
    ),
    section('How sure', [[...grades, why].join('; ')]),
    section('Sources', [
      ...explained.citations.map(
        ({ key, source, where, supports, readAt }) =>
          `${source} [${key}]: ${supports}; ${where}, read at: ${readAt}`,
      ),
      ...(basis === undefined ? [] : [basis]),
    ]),
    section(
      'Test patients that expect its card',
      explained.patients.length === 0
        ? ['none']
        : explained.patients.map(({ name, hooks, teaches }) => `${name} (${hooks.join(', ')}): ${teaches}`),
    ),
    deferral,
  ];
  return `${parts.filter((part) => part !== '').join('\n\n')}\n`;
}

function section(title: string, items: readonly string[]): string {
  return items.length === 0 ? '' : [title, ...items.map((item) => `  - ${item}`)].join('\n');
}

interface TreeWords {
  readonly parameters: readonly ExplainedParameter[];
  readonly told: Set<string>;
}

/** A tree as lines; a named group told before is not told again. */
function treeLines(
  { asked, name, parameter, children }: ExplainedNode,
  { parameters, told }: TreeWords,
  level: number,
): readonly string[] {
  const isTold = name !== undefined && children.length > 0 && told.has(name);
  if (name !== undefined) told.add(name);
  if (isTold) return [`${'  '.repeat(level)}- ${name}, as above`];
  const limit = parameters.find(({ id }) => id === parameter);
  const notes = [
    ...(name === undefined ? [] : [`named ${name}`]),
    ...(parameter === undefined
      ? []
      : [
          `limit ${parameter}${limit ? `, read at: ${limit.readAt}, ${limit.citations.join(', ') || 'no source'}` : ''}`,
        ]),
  ];
  const line = `${'  '.repeat(level)}- ${asked}${notes.length === 0 ? '' : ` (${notes.join('; ')})`}`;
  return [line, ...children.flatMap((child) => treeLines(child, { parameters, told }, level + 1))];
}

function findingText(finding: ExplainedFinding, words: TreeWords): string {
  const {
    node,
    entries,
    construct,
    given,
    where,
    summary,
    found,
    options,
    checks,
    before,
    ready,
    sure,
    notKnown,
  } = finding;
  const fits = [
    ...(node === undefined ? [] : [`"${node}" is true`]),
    ...(construct === undefined ? [] : [`the construct is ${construct}`]),
    ...(entries === undefined ? [] : [`at ${entries.join(', ')}`]),
    ...(given ? [`one of ${given.recorded.join(', ')} is recorded and ${given.unknown} is not known`] : []),
  ];
  const list = (title: string, texts: readonly string[] | undefined): readonly string[] =>
    texts === undefined ? [] : [`${title}: ${texts.join(' · ')}`];
  return [
    `Card, where ${fits.length === 0 ? 'nothing before it fits' : fits.join(' and ')}`,
    ...(where ? ['  and', ...treeLines(where, words, 2)] : []),
    ...[
      `summary: ${summary.join(' | ')}`,
      ...list('found', found),
      ...list('options', options),
      ...list('to check', checks),
      ...list(
        'before surgery',
        before?.map(({ says }) => says),
      ),
      ...(ready === undefined ? [] : [`have ready: ${ready}`]),
      `sure: ${sure}`,
      ...(notKnown.length === 0 ? [] : [`told as not known: ${notKnown.map(({ says }) => says).join(', ')}`]),
    ].map((line) => `  ${line}`),
  ].join('\n');
}

function valueText({ value, unit }: ExplainedParameter): string {
  const shown = typeof value === 'number' ? String(value) : JSON.stringify(value);
  return unit === '1' ? shown : `${shown} ${unit}`;
}
