import { sortedUnique } from '../../base/order.js';
import type { Advisory } from '../../engine/evaluate.js';
import type { FactState } from '../../facts/fact.js';
import type { ExpectedCard } from '../test-patients.js';
import type { Answer, Run } from './run-case.js';
import type { CardsExpected, FactsExpected, OutcomeExpected, TrialCase } from './trial-case.js';

/** What a run did otherwise than its case asks. All empty: the case is kept. */
export interface Verdict {
  readonly missing: readonly ExpectedCard[];
  readonly unexpected: readonly ExpectedCard[];
  /** Of an outcome: what was expected and what was found. */
  readonly wrong: readonly Wrong[];
  /** Why there is nothing to compare. */
  readonly why?: string;
}

export interface Wrong {
  readonly expected: string;
  readonly found: string;
  readonly advisory?: Advisory;
}

const NOTHING = { missing: [], unexpected: [], wrong: [] } as const;

export function isKept({ missing, unexpected, wrong, why }: Verdict): boolean {
  return missing.length + unexpected.length + wrong.length === 0 && why === undefined;
}

/** Compares an answer with what its case expects. */
export function judge({ trial, answer, why }: Run): Verdict {
  if (!answer) return { ...NOTHING, why: why ?? 'no answer' };
  const { expects } = trial;
  const verdict = compared(expects, answer);
  return why === undefined ? verdict : { ...verdict, why };
}

function compared(expects: TrialCase['expects'], answer: Answer): Verdict {
  switch (expects.kind) {
    case 'cards':
      return judgeCards(expects, answer);
    case 'outcome':
      return judgeOutcome(expects, answer);
    case 'facts':
      return judgeFacts(expects, answer);
  }
}

function judgeCards({ cards }: CardsExpected, answer: Answer): Verdict {
  const left = [...cardsOf(answer)];
  const missing: ExpectedCard[] = [];
  for (const wanted of cards) {
    const index = left.findIndex((found) => keyOf(found) === keyOf(wanted));
    if (index < 0) missing.push(wanted);
    else left.splice(index, 1);
  }
  return { missing, unexpected: left, wrong: [] };
}

function keyOf({ rule, hip, indicator }: ExpectedCard): string {
  return `${rule} ${hip} ${indicator}`;
}

/** The cards of an answer as an expectation names them. */
export function cardsOf(answer: Answer): readonly ExpectedCard[] {
  return answer.cards.map((card) => ({
    rule: card.source.topic.code,
    hip: hipOf(card.extension['example.kotyle.advisory']['hip']),
    indicator: card.indicator,
  }));
}

/** A card about the whole answer names no hip. */
function hipOf(hip: unknown): ExpectedCard['hip'] {
  switch (hip) {
    case 'left':
    case 'right':
    case 'both':
    case 'unknown':
      return hip;
    default:
      return 'any';
  }
}

function judgeOutcome(expects: OutcomeExpected, answer: Answer): Verdict {
  const advisories = advisoriesFor(expects, answer);
  const [advisory, second] = advisories;
  if (!advisory || second) {
    const found = advisories.map(({ hip, construct }) => `${hip} ${construct}`).join(', ');
    return {
      ...NOTHING,
      why: `expected one hip and construct to look at, found ${found === '' ? 'none' : found}: name hip or construct`,
    };
  }
  if (advisory.outcome !== expects.outcome)
    return { ...NOTHING, wrong: [{ expected: expects.outcome, found: foundOutcome(advisory), advisory }] };
  const wrong = [...wrongNeeds(expects, advisory), ...wrongWords(expects, advisory, answer)];
  return { ...NOTHING, wrong: wrong.map((one) => ({ ...one, advisory })) };
}

/** What a case's rule says about the hips and constructs the case may mean. */
export function advisoriesFor(expects: OutcomeExpected, { hips }: Answer): readonly Advisory[] {
  return hips
    .filter(
      ({ hip, construct }) => (expects.hip ?? hip) === hip && (expects.construct ?? construct) === construct,
    )
    .flatMap(({ advisories }) => advisories.filter(({ rule }) => rule === expects.rule));
}

function foundOutcome({ outcome, needs, broken }: Advisory): string {
  if (broken) return 'cannot-tell: could not be evaluated';
  return needs.length > 0 ? `${outcome}, needs ${needs.join(', ')}` : outcome;
}

function wrongNeeds({ needs }: OutcomeExpected, advisory: Advisory): readonly Wrong[] {
  const missing = (needs ?? []).filter((need) => !advisory.needs.includes(need));
  if (missing.length === 0) return [];
  return [{ expected: `needs ${missing.join(', ')}`, found: foundOutcome(advisory) }];
}

function wrongWords({ says, never }: OutcomeExpected, advisory: Advisory, answer: Answer): readonly Wrong[] {
  if (says.length + never.length === 0) return [];
  const text = wordsOf(advisory, answer);
  if (text === undefined) return [{ expected: 'a card', found: 'none, although the rule fires' }];
  return [
    ...says
      .filter((phrase) => !text.includes(phrase))
      .map((phrase) => ({ expected: `the card to say "${phrase}"`, found: text })),
    ...never
      .filter((phrase) => text.includes(phrase))
      .map((phrase) => ({ expected: `the card not to say "${phrase}"`, found: text })),
  ];
}

/** What the card of an advisory says, whether it was shown, kept back, or is told on a page only. */
function wordsOf(advisory: Advisory, answer: Answer): string | undefined {
  const unshown = [...answer.kept, ...(answer.pageOnly?.().cards.map((card) => ({ card })) ?? [])];
  const all = [...answer.cards, ...unshown.map(({ card }) => card.card)];
  const card = all.find(({ source, extension }) => {
    const { hip, construct } = extension['example.kotyle.advisory'];
    return (
      source.topic.code === advisory.rule &&
      (hip === advisory.hip || hip === 'both') &&
      construct === advisory.construct
    );
  });
  return card && `${card.summary}\n${card.detail}`;
}

function judgeFacts(expects: FactsExpected, { hips, record }: Answer): Verdict {
  const { among, operation } = expects;
  const withState = (matches: (state: FactState | undefined) => boolean): readonly string[] =>
    among.filter((id) => hips.some(({ facts }) => matches(facts.get(id)?.state)));
  const isUnclear = (state: FactState | undefined): boolean =>
    state?.status === 'unknown' && state.reason === 'code-unclear';
  return {
    ...NOTHING,
    wrong: [
      ...listsDiffer(
        'recorded',
        expects.present,
        withState((state) => state?.status === 'present'),
      ),
      ...listsDiffer('unclear', expects.unclear, withState(isUnclear)),
      ...(operation === undefined ? [] : listsDiffer('operation', [operation], operationsOf(hips))),
      ...listsDiffer('silenced', [String(expects.silenced)], [String(isSilenced(record))]),
    ],
  };
}

function operationsOf(hips: Answer['hips']): readonly string[] {
  const kinds = hips.flatMap(({ facts }) => {
    const state = facts.get('procedure-kind')?.state;
    return state?.status === 'present' && state.value.kind === 'code' ? state.value.codes : [];
  });
  return kinds.length > 0 ? kinds : ['none'];
}

function isSilenced(record: Answer['record']): boolean {
  return (record?.silenced.length ?? 0) > 0;
}

function listsDiffer(what: string, wanted: readonly string[], found: readonly string[]): readonly Wrong[] {
  const [expected, shown] = [wanted, found].map((list) => sortedUnique(list).join(', '));
  if (expected === shown) return [];
  return [{ expected: `${what}: ${expected || 'nothing'}`, found: `${what}: ${shown || 'nothing'}` }];
}
