import { piecesOf } from '../../rulebook/placeholders.js';
import type { Parsed } from '../../rulebook/parse.js';
import type { ParsedPack } from '../../rulebook/parse-pack.js';
import type { FindingFile, RuleFile } from '../../rulebook/types.js';
import { limitsIn } from './check-thresholds.js';
import { faultsOf } from './finding.js';
import type { Fault, ReportFault } from './finding.js';
import { CLEARANCE, COMMANDS, LONGEST_SUMMARY, MOST_WORDS, OBLIGATIONS, PROMISES } from './wording.js';

/** Whether a rule words all its outcomes, orders and promises nothing, fits the card and shows no hole. */
export function checkWording(parsed: ParsedPack): readonly Fault[] {
  return faultsOf('wording', (report) => {
    for (const rule of parsed.rules) {
      checkSentences(rule, report);
      checkOutcomes(rule, report);
      checkFirstOption(rule, report);
      checkMechanismSaid(rule, report);
      checkPracticeSaid(rule, parsed, report);
      checkLengths(rule, parsed.about?.value.deferral ?? '', report);
    }
  });
}

interface Sentence {
  readonly path: string;
  readonly text: string;
  /** A reader is offered it, as an option, check or preparation. */
  readonly isOffer: boolean;
  /** Placeholders in it are filled; elsewhere braces would be shown. */
  readonly isFilled: boolean;
}

function sentencesOf({ title, messages, findings, effects = [], certainty }: RuleFile): readonly Sentence[] {
  const plain = (path: string, text: string): Sentence => ({ path, text, isOffer: false, isFilled: false });
  return [
    plain('title', title),
    ...Object.entries(messages).map(([outcome, text]) => plain(`messages.${outcome}`, text)),
    ...findings.flatMap((finding, index) => findingSentences(finding, `findings[${index}]`)),
    ...effects.map(({ says }, index) => ({
      path: `effects[${index}].says`,
      text: says,
      isOffer: false,
      isFilled: true,
    })),
    plain('certainty.why', certainty.why),
  ];
}

function findingSentences(finding: FindingFile, base: string): readonly Sentence[] {
  const list = (member: 'summary' | 'found' | 'options' | 'checks'): readonly Sentence[] =>
    (finding[member] ?? []).map((text, index) => ({
      path: `${base}.${member}[${index}]`,
      text,
      isOffer: member === 'options' || member === 'checks',
      isFilled: true,
    }));
  const says = (member: 'before' | 'notKnown'): readonly Sentence[] =>
    (finding[member] ?? []).map((item, index) => ({
      path: `${base}.${member}[${index}].says`,
      text: item.says,
      isOffer: member === 'before',
      isFilled: false,
    }));
  const { sure, ready } = finding;
  return [
    ...(['summary', 'found', 'options', 'checks'] as const).flatMap(list),
    ...says('before'),
    ...(ready === undefined ? [] : [{ path: `${base}.ready`, text: ready, isOffer: true, isFilled: false }]),
    { path: `${base}.sure`, text: sure, isOffer: false, isFilled: true },
    ...says('notKnown'),
  ];
}

function checkSentences({ file, value }: Parsed<RuleFile>, report: ReportFault): void {
  for (const { path, text, isOffer, isFilled } of sentencesOf(value)) {
    if (text.trim() === '') report(file, path, 'words', 'blanks');
    const command = isOffer ? COMMANDS.exec(text)?.[0] : undefined;
    if (command !== undefined) report(file, path, 'no command at its beginning', text);
    const order = OBLIGATIONS.exec(text)?.[0];
    if (order !== undefined) report(file, path, `advice, without "${order}"`, text);
    const promise = path === 'certainty.why' ? undefined : PROMISES.exec(text)?.[0];
    if (promise !== undefined) report(file, path, `no probability, score or promise ("${promise}")`, text);
    const literal = piecesOf(text).flatMap((piece) => ('text' in piece ? [piece.text] : []));
    if (literal.some((part) => /[{}]/.test(part)))
      report(file, path, 'placeholders of letters, digits and -.:, in closed braces', text);
    else if (!isFilled && /[{}]/.test(text))
      report(file, path, 'no placeholder, as none is filled here', text);
  }
}

/** Each of the four outcomes has words of its own, and silence is no clearance. */
function checkOutcomes({ file, value }: Parsed<RuleFile>, report: ReportFault): void {
  const { messages } = value;
  const entries = Object.entries(messages);
  for (const [index, [outcome, text]] of entries.entries()) {
    const same = entries.slice(0, index).find(([, other]) => other === text)?.[0];
    if (same !== undefined) report(file, `messages.${outcome}`, `other words than ${same}`, text);
    const isUnsure = /cannot tell/i.test(text);
    if (outcome === 'cannotTell' && !text.startsWith('Cannot tell'))
      report(file, `messages.${outcome}`, 'words that begin with "Cannot tell"', text);
    if (outcome !== 'cannotTell' && isUnsure)
      report(file, `messages.${outcome}`, 'words without "cannot tell"', text);
  }
  for (const outcome of ['doesNotFire', 'notApplicable'] as const) {
    const clearing = CLEARANCE.exec(messages[outcome])?.[0];
    if (clearing !== undefined)
      report(file, `messages.${outcome}`, `words that clear nothing ("${clearing}")`, messages[outcome]);
  }
}

/** Where a plan is spoken of, keeping it comes first; where something is checked, it is not offered. */
function checkFirstOption({ file, value }: Parsed<RuleFile>, report: ReportFault): void {
  for (const [index, { options }] of value.findings.entries()) {
    const path = `findings[${index}].options`;
    if (value.intent === 'check' && options)
      report(file, path, 'checks, in a rule that only checks', options[0] ?? '');
    else if (options && options[0] !== 'no change')
      report(file, `${path}[0]`, '"no change" first', options[0] ?? 'none');
  }
}

/** Mechanism and clinical evidence are told apart: a model is named first, and only where there is one. */
function checkMechanismSaid({ file, value }: Parsed<RuleFile>, report: ReportFault): void {
  const isModel = value.certainty.mechanism === 'model';
  for (const [index, { sure }] of value.findings.entries()) {
    const path = `findings[${index}].sure`;
    if (isModel && !sure.startsWith('mechanism: model'))
      report(file, path, 'words that begin with "mechanism: model"', sure);
    if (value.certainty.mechanism === undefined && sure.includes('mechanism'))
      report(file, path, 'no mechanism, as the certainty names none', sure);
  }
}

/** A card that stands on a limit without a source says "common practice". */
function checkPracticeSaid({ file, value }: Parsed<RuleFile>, parsed: ParsedPack, report: ReportFault): void {
  const unsourced = new Set(
    parsed.parameters
      .filter((one) => one.value.readAt === 'common practice, no source')
      .map((one) => one.value.id),
  );
  const named = new Map(parsed.conditions.map((one) => [one.value.id, one.value.when]));
  // What only sets a case aside, under `not`, is no limit of the rule.
  const limits = (['appliesWhen', 'when'] as const).flatMap((part) =>
    limitsIn(value[part], part).filter(({ path }) => !/\.not\b/.test(path)),
  );
  const inNamed = namedIn([value.appliesWhen, value.when]).flatMap((id) => {
    const condition = named.get(id);
    return condition ? limitsIn(condition, 'when').map((limit) => ({ ...limit, path: 'when' })) : [];
  });
  const found = [...limits, ...inNamed].find(({ id }) => unsourced.has(id));
  if (!found) return;
  for (const [index, finding] of value.findings.entries()) {
    const told = [
      finding.sure,
      ...finding.found,
      ...(finding.options ?? []),
      ...(finding.checks ?? []),
      ...(finding.before ?? []).map(({ says }) => says),
      finding.ready ?? '',
    ];
    if (!told.some((text) => text.includes('common practice')))
      report(file, `findings[${index}].sure`, `"common practice", on which ${found.id} rests`, finding.sure);
  }
}

function namedIn(value: unknown): readonly string[] {
  if (typeof value !== 'object' || value === null) return [];
  if ('condition' in value && typeof value.condition === 'string') return [value.condition];
  return Object.values(value).flatMap(namedIn);
}

/** A value as short as one comes: what a message holds beside it is what its writer answers for. */
const SHORT_VALUE = '60°';
const SUBJECTS = { planned: 'Right hip, planned: ', 'in-place': 'Right hip, in place: ' } as const;

function checkLengths({ file, value }: Parsed<RuleFile>, deferral: string, report: ReportFault): void {
  for (const [index, finding] of value.findings.entries()) {
    const subject = SUBJECTS[finding.construct ?? 'planned'];
    for (const [item, summary] of finding.summary.entries()) {
      const length = Array.from(`${subject}${filled(summary)}`).length;
      if (length > LONGEST_SUMMARY)
        report(
          file,
          `findings[${index}].summary[${item}]`,
          `at most ${LONGEST_SUMMARY} characters with hip and construct, values at their shortest`,
          `${length}`,
        );
    }
    const words = wordsIn(`${fiveLines(finding)} ${deferral}`);
    if (words > MOST_WORDS)
      report(file, `findings[${index}]`, `at most ${MOST_WORDS} words in five lines`, `${words}`);
  }
}

/** Everything a finding may tell at once, the longest of what is only told in part. */
function fiveLines(finding: FindingFile): string {
  const longest = (items: readonly { readonly says: string }[]): readonly string[] =>
    items
      .map(({ says }) => says)
      .sort((a, b) => wordsIn(b) - wordsIn(a))
      .slice(0, 3);
  const offers = finding.options ?? finding.checks ?? [...longest(finding.before ?? []), finding.ready ?? ''];
  const lines = [...finding.found, ...offers, finding.sure].map(filled);
  return ['Found', ...lines, 'Options', 'Sure?', 'Not known', ...longest(finding.notKnown)].join(' ');
}

function filled(message: string): string {
  const [first = ''] = message.split(' || ');
  return piecesOf(first)
    .map((piece) => ('text' in piece ? piece.text : SHORT_VALUE))
    .join('');
}

function wordsIn(text: string): number {
  return text.split(/\s+/).filter((word) => /[\p{L}\p{N}]/u.test(word)).length;
}
