import type { Hook, Kept } from '../../advice/index.js';
import type { HipEvaluation } from '../../engine/evaluate.js';
import type { Card } from '../../render/card-types.js';
import type { Rulebook } from '../../rulebook/types.js';
import type { HookAnswer } from '../../advice/evaluate-patient.js';
import { readableHip } from './readable-hip.js';
import type { ReadableHip } from './readable-hip.js';
import { hipTitle } from '../../render/words.js';

/** Everything found for one patient, in words and in a reader's order; text and page are readers of it. */
export interface ReadableEvaluation {
  readonly patientId: string;
  readonly now: string;
  readonly engine: string;
  readonly rulebook: { readonly label: string; readonly hash: string; readonly deferral: string };
  readonly site?: { readonly id: string; readonly version: string };
  readonly hooks: readonly ReadableHook[];
  readonly hips: readonly ReadableHip[];
  readonly citations: readonly ReadableCitation[];
  /** Sets that were not wholly read, and resources that could not be used. */
  readonly notRead: readonly string[];
}

export interface ReadableHook {
  readonly hook: Hook;
  readonly evaluation: string;
  readonly cards: readonly ReadableCard[];
  /** Told here and never on a card. */
  readonly pageOnly: readonly Card[];
  /** Cards that the ceiling or another card left out, and what of the two. */
  readonly kept: readonly string[];
}

export interface ReadableCard {
  readonly card: Card;
  /** An earlier hook that says the same, word for word. */
  readonly sameAs?: Hook;
}

export interface ReadableCitation {
  readonly id: string;
  readonly text: string;
  readonly readAt: string;
  readonly doi?: string;
}

/** Which hook reads most, first. */
const FULLEST: readonly Hook[] = ['order-sign', 'patient-view', 'order-select', 'appointment-book'];

export function readableEvaluation(answers: readonly HookAnswer[], rulebook: Rulebook): ReadableEvaluation {
  const [first] = answers;
  if (!first) throw new RangeError('expected at least one answer');
  const { patientId, now, engine, site } = first.input;
  const hips = readableHips(answers, rulebook);
  const rules = new Set(
    hips
      .flatMap((hip) => hip.rules.filter(({ outcome }) => outcome !== 'not-applicable'))
      .map(({ rule }) => rule),
  );
  return {
    patientId,
    now,
    engine,
    rulebook: { label: rulebook.about.label, hash: rulebook.hash, deferral: rulebook.about.deferral },
    ...(site && { site: { id: site.id, version: site.version } }),
    hooks: answers.map((answer, index) => readableHook(answer, answers.slice(0, index))),
    hips,
    citations: citationsOf(rules, answers, rulebook),
    notRead: notReadIn(answers, rulebook),
  };
}

function readableHook({ hook, answer }: HookAnswer, earlier: readonly HookAnswer[]): ReadableHook {
  return {
    hook,
    evaluation: answer.evaluationId(),
    cards: answer.cards.map((card) => {
      const same = earlier.find((one) => one.answer.cards.some((other) => saysTheSame(card, other)));
      return { card, ...(same && { sameAs: same.hook }) };
    }),
    pageOnly: (answer.pageOnly?.().cards ?? []).map(({ card }) => card),
    kept: [
      ...(answer.withheld ?? []).map(({ summary }) => `${summary} (${KEPT_BECAUSE.silent})`),
      ...answer.kept.map(({ card, why }) => `${card.card.summary} (${KEPT_BECAUSE[why]})`),
    ],
  };
}

const KEPT_BECAUSE = {
  acknowledged: 'answered before, unchanged',
  ceiling: 'more than an answer shows',
  'said-by-another': 'another card says it',
  silent: 'this site keeps it silent',
} as const satisfies Record<Kept['why'], string>;

function saysTheSame(a: Card, b: Card): boolean {
  return a.summary === b.summary && a.detail === b.detail && a.indicator === b.indicator;
}

function readableHips(answers: readonly HookAnswer[], rulebook: Rulebook): readonly ReadableHip[] {
  const byFullness = [...answers].sort((a, b) => FULLEST.indexOf(a.hook) - FULLEST.indexOf(b.hook));
  const seen = new Map<string, { readonly hip: HipEvaluation; readonly hook: Hook }[]>();
  for (const { hook, answer } of byFullness)
    for (const hip of answer.hips) {
      const title = hipTitle(hip.hip, hip.construct);
      seen.set(title, [...(seen.get(title) ?? []), { hip, hook }]);
    }
  return [...seen.values()].flatMap(([main, ...others]) =>
    main ? [readableHip(main.hip, main.hook, others, rulebook)] : [],
  );
}

function citationsOf(
  rules: ReadonlySet<string>,
  answers: readonly HookAnswer[],
  rulebook: Rulebook,
): readonly ReadableCitation[] {
  const shown = answers.flatMap(({ answer }) => answer.cards.flatMap((card) => citedBy(card)));
  const ofRules = rulebook.rules
    .filter(({ id }) => rules.has(id))
    .flatMap(({ citations = [] }) => citations.map(({ key }) => key));
  return [...new Set([...ofRules, ...shown])].sort().flatMap((id) => {
    const citation = rulebook.citations.get(id);
    if (!citation) return [];
    const { authors, title, journal, year, volume, pages, doi, readAt, short } = citation;
    const place = [journal, year, volume, pages].filter((part) => part !== null).join(' ');
    const parts = title === null ? [short, place] : [authors?.replace(/\.$/, '') ?? '', title, place];
    const text = parts.filter((part) => part !== '').join('. ');
    return [{ id, text, readAt, ...(doi !== null && { doi }) }];
  });
}

function citedBy(card: Card): readonly string[] {
  const { citations } = card.extension['example.kotyle.advisory'];
  return Array.isArray(citations)
    ? (citations as readonly { readonly id: string }[]).map(({ id }) => id)
    : [];
}

/** Sets about who asks and where, which a patient's record need not have. */
const OF_THE_CALL: ReadonlySet<string> = new Set(['user', 'encounter']);

function notReadIn(answers: readonly HookAnswer[], rulebook: Rulebook): readonly string[] {
  const lines = answers.flatMap(({ answer: { record } }) => [
    ...Object.entries(record.sets).flatMap(([key, { status, why }]) =>
      status === 'complete' || (status === 'absent' && OF_THE_CALL.has(key))
        ? []
        : [`${rulebook.about.sets[key] ?? key}: ${why ?? status}`],
    ),
    ...record.notes.map(({ from, why }) => `${from}: ${why}`),
  ]);
  return [...new Set(lines)].sort();
}
