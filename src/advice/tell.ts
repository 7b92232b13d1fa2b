import { lazy } from '../base/lazy.js';
import type { EngineFault, HipEvaluation } from '../engine/evaluate.js';
import type { PatientRecord } from '../facts/patient-record.js';
import { answerCards } from '../render/answer-cards.js';
import type { AnswerCards } from '../render/answer-cards.js';
import { sortCards } from '../render/card-order.js';
import type { AdvisoryCard } from '../render/card.js';
import type { Card, CardContext } from '../render/card-types.js';
import { dataGapCard, findDataGap } from '../render/data-gap-card.js';
import { leaveTheWord } from '../render/yielding.js';
import type { Stated } from '../rulebook/governance.js';
import type { Entry, Rule, Rulebook } from '../rulebook/types.js';
import type { AdviceInput, Advisor } from './advise.js';
import { checkedCards } from './checked-cards.js';
import { evaluationId, mappedCodings, writeEvaluation } from './evaluation.js';
import type { Evaluation } from './evaluation.js';
import { repeatingRules, rulesAt } from './heard-rules.js';
import { audible, localParameters } from './states.js';
import type { LocalParameter, States } from './states.js';
import { isSilenced, wordCards } from './worded-cards.js';
import type { Telling } from './worded-cards.js';

/** A card whose rule fires and that an answer does not show, and why. */
export type Kept =
  AnswerCards['kept'][number] | { readonly card: AdvisoryCard; readonly why: 'said-by-another' | 'silent' };

/** What only a page tells, as cards are worded; nothing of it is sent with an answer. */
export interface PageOnly {
  readonly cards: readonly AdvisoryCard[];
  readonly faults: readonly EngineFault[];
}

/** What an answer tells, and what it keeps back. */
export interface Told {
  readonly cards: readonly Card[];
  readonly kept: readonly Kept[];
  readonly pageOnly: () => PageOnly;
  readonly evaluation: () => Evaluation;
  readonly evaluationId: () => string;
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
  readonly silent?: Stated['why'];
  readonly withheld?: readonly Card[];
  readonly parameters?: readonly LocalParameter[];
  /** The same told to readers who have answered these before. */
  readonly toldTo: (acknowledged: ReadonlySet<string>) => Told;
}

interface Findings {
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
  readonly record: PatientRecord;
  /** The entry whose wording is used. */
  readonly telling: Entry;
  readonly states: States;
}

/** Chooses and words the cards of one answer. */
export function tell(
  { hips, faults, record, telling, states }: Findings,
  input: AdviceInput,
  advisor: Advisor,
): Told {
  const { rulebook } = advisor;
  const entry = input.service.hook;
  const here = rulesAt(rulebook, entry);
  const { spoken: heard, hushed } = audible(here, states);
  const parameters = localParameters(rulebook);
  const speaking = heard.filter(({ tells }) => tells === undefined);
  const found = {
    call: callName(input),
    entry,
    now: input.now,
    engine: input.engine,
    rulebook,
    ...(input.site && { site: input.site }),
    record,
    hips,
    computations: advisor.computations,
    states,
    parameters,
  };
  // Most answers have no card, so nobody asks for the evaluation's name.
  const id = lazy(() => evaluationId(found));
  const context: CardContext = {
    rulebook,
    entry,
    telling,
    service: input.service.id,
    hookInstance: input.hookInstance,
    iss: input.iss,
    evaluation: id,
    evaluatedAt: input.now,
    engine: input.engine,
    ...(input.publicUrl !== undefined && { publicUrl: input.publicUrl }),
    ...(input.nameSecret !== undefined && { nameSecret: input.nameSecret }),
    ...siteContext(input, record),
  };
  const { silenced } = record;
  const rendered = wordCards(speaking, hips, { silenced, context });
  // What is silent is written out too: that it could be told is part of what is tried before it speaks.
  const unheard = hushed.filter(({ tells }) => tells === undefined);
  const quiet = wordCards(unheard, rendered.hips, { silenced, context, whole: true });
  const shown = quiet.hips;
  const { cards: own, yielded } = leaveTheWord(rendered.cards, speaking);
  // Without a card there is nothing a line could stand on.
  const lining = own.length === 0 ? [] : heard.filter(({ tells }) => tells === 'line');
  const lines = wordCards(lining, hips, { silenced, context });
  const gap = mayTellGap(input, record, shown, rulebook)
    ? findDataGap(shown, new Set(speaking.map(({ id: rule }) => rule)), record.sets)
    : undefined;
  const ceiling = input.site?.ceiling.get(entry) ?? rulebook.about.ceilings[entry];
  const repeating = repeatingRules(rulebook);
  const unasked = {
    ...(parameters.length > 0 && { parameters }),
    pageOnly: lazy(() => pageOnly(heard, shown, { silenced, context })),
    evaluationId: id,
    evaluation: () => writeEvaluation({ ...found, hips: shown }, id()),
    hips: shown,
  };
  // What was answered before decides which cards are shown, and nothing of how they are worded.
  const toldTo = (acknowledged: ReadonlySet<string>): Told => {
    const answer = answerCards(own, { ceiling, acknowledged, repeating, lines: lines.cards }, context);
    const cards = gap ? [...answer.cards, dataGapCard(gap, shown, context)] : answer.cards;
    const checked = checkedCards([...sortCards(cards, rulebook.about.first), ...answer.more], (broken) =>
      dataGapCard({ sets: [], undecided: [], broken }, shown, context),
    );
    return {
      ...unasked,
      ...shownIn(states, checked.cards),
      kept: [
        ...answer.kept,
        ...yielded.map((card) => ({ card, why: 'said-by-another' as const })),
        ...quiet.cards.map((card) => ({ card, why: 'silent' as const })),
      ],
      faults: [...faults, ...rendered.faults, ...quiet.faults, ...lines.faults, ...checked.faults],
      toldTo,
    };
  };
  return toldTo(input.acknowledged ?? NONE);
}

/** What tells one call from every other; only who knows the secret can try out of which patient it was. */
function callName({ iss, service, hookInstance, patientId, nameSecret }: AdviceInput): readonly string[] {
  return [iss, service.id, hookInstance, patientId, ...(nameSecret === undefined ? [] : [nameSecret])];
}

/** Everything, or nothing of it where the service is silent: what it would have said is handed out beside. */
function shownIn({ service }: States, cards: readonly Card[]): Pick<Told, 'cards' | 'silent' | 'withheld'> {
  return service.state === 'speak' ? { cards } : { cards: [], silent: service.why, withheld: cards };
}

/** The installation a card was made in, what it decided, and which of its codes were translated for it. */
function siteContext(
  { site }: AdviceInput,
  record: PatientRecord,
): Partial<Pick<CardContext, 'site' | 'governed' | 'mapped' | 'recorded'>> {
  if (!site) return {};
  const { id, version, hash, sources } = site;
  const mapped = mappedCodings(record);
  return {
    site: { id, version, hash },
    governed: site,
    ...(mapped.length > 0 && { mapped }),
    ...(sources.recorded.length > 0 && { recorded: new Set(sources.recorded) }),
  };
}

const NONE: ReadonlySet<string> = new Set();

/** An old replacement alone is no reason to speak at the chart, not even of what could not be read. */
function mayTellGap(
  input: AdviceInput,
  record: PatientRecord,
  hips: readonly HipEvaluation[],
  { about }: Rulebook,
): boolean {
  const heard = hips.filter((hip) => !isSilenced(hip, record.silenced));
  if (heard.length === 0) return false;
  if (input.service.hook !== 'patient-view' || record.operations.length > 0) return true;
  return heard.some(({ facts }) =>
    about.dislocationFacts.some((id) => facts.get(id)?.state.status === 'present'),
  );
}

function pageOnly(heard: readonly Rule[], hips: readonly HipEvaluation[], telling: Telling): PageOnly {
  const paged = heard.filter(({ tells }) => tells !== undefined);
  const { cards, faults } = wordCards(paged, hips, telling);
  return { cards, faults };
}
