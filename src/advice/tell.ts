import { lazy } from '../base/lazy.js';
import type { Advisory, EngineFault, HipEvaluation } from '../engine/evaluate.js';
import type { PatientRecord } from '../facts/patient-record.js';
import { answerCards } from '../render/answer-cards.js';
import type { AnswerCards } from '../render/answer-cards.js';
import { advisoryCard, sortCards } from '../render/card.js';
import type { AdvisoryCard } from '../render/card.js';
import type { Card, CardContext } from '../render/card-types.js';
import { dataGapCard, findDataGap } from '../render/data-gap-card.js';
import { leaveTheWord } from '../render/yielding.js';
import type { Entry, Rule, Rulebook } from '../rulebook/types.js';
import type { AdviceInput, Advisor } from './advise.js';
import { evaluationId, mappedCodings, writeEvaluation } from './evaluation.js';
import type { Evaluation } from './evaluation.js';

/** A card whose rule fires and that an answer does not show, and why. */
export type Kept =
  AnswerCards['kept'][number] | { readonly card: AdvisoryCard; readonly why: 'said-by-another' };

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
}

interface Findings {
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
  readonly record: PatientRecord;
  /** The entry whose wording is used. */
  readonly telling: Entry;
}

/** Chooses and words the cards of one answer. */
export function tell(
  { hips, faults, record, telling }: Findings,
  input: AdviceInput,
  advisor: Advisor,
): Told {
  const { rulebook } = advisor;
  const entry = input.service.hook;
  const heard = rulebook.rules.filter((rule) => rule.entries.includes(entry));
  const speaking = heard.filter(({ tells }) => tells === undefined);
  const found = {
    call: [input.iss, input.service.id, input.hookInstance, input.patientId],
    entry,
    now: input.now,
    engine: input.engine,
    rulebook,
    ...(input.site && { site: input.site }),
    record,
    hips,
    computations: advisor.computations,
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
    ...siteContext(input, record),
  };
  const rendered = renderAll(speaking, hips, record.silenced, context);
  const shown = rendered.hips;
  const acknowledged = input.acknowledged ?? NONE;
  const { cards: own, yielded } = leaveTheWord(rendered.cards, speaking);
  // Without a card there is nothing a line could stand on.
  const lines = renderAll(
    own.length === 0 ? [] : heard.filter(({ tells }) => tells === 'line'),
    hips,
    record.silenced,
    context,
  );
  const answer = answerCards(
    own,
    {
      ceiling: input.site?.ceiling.get(entry) ?? rulebook.about.ceilings[entry],
      acknowledged,
      repeating: repeatingRules(rulebook),
      lines: lines.cards,
    },
    context,
  );
  const gap = mayTellGap(input, record, shown, rulebook)
    ? findDataGap(shown, new Set(speaking.map(({ id: rule }) => rule)), record.sets)
    : undefined;
  const cards = gap ? [...answer.cards, dataGapCard(gap, shown, context)] : answer.cards;
  return {
    cards: [...sortCards(cards, rulebook.about.first), ...answer.more],
    kept: [...answer.kept, ...yielded.map((card) => ({ card, why: 'said-by-another' as const }))],
    pageOnly: lazy(() => pageOnly(heard, shown, record.silenced, context)),
    evaluationId: id,
    evaluation: () => writeEvaluation({ ...found, hips: shown }, id()),
    hips: shown,
    faults: [...faults, ...rendered.faults, ...lines.faults],
  };
}

/** The installation a card was made in, and which of its codes were translated for it. */
function siteContext(
  { site }: AdviceInput,
  record: PatientRecord,
): Partial<Pick<CardContext, 'site' | 'mapped' | 'recorded'>> {
  if (!site) return {};
  const { id, version, hash, sources } = site;
  const mapped = mappedCodings(record);
  return {
    site: { id, version, hash },
    ...(mapped.length > 0 && { mapped }),
    ...(sources.recorded.length > 0 && { recorded: new Set(sources.recorded) }),
  };
}

const NONE: ReadonlySet<string> = new Set();

/** Whose hip and which person it is gets asked again however often it was answered. */
function repeatingRules({ rules }: Rulebook): ReadonlySet<string> {
  return new Set(rules.filter(({ type }) => REPEATING.has(type)).map(({ id }) => id));
}

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

/** Of a hip that is being reduced or operated on nothing is told but whose it is and which side. */
function mayTell(rule: Rule, hip: HipEvaluation, silenced: PatientRecord['silenced']): boolean {
  return REPEATING.has(rule.type) || !isSilenced(hip, silenced);
}

function isSilenced({ hip }: HipEvaluation, silenced: PatientRecord['silenced']): boolean {
  return silenced.some((one) => one.hip === 'any' || one.hip === hip);
}

/** Kinds of rule that no answer and no gate keeps quiet. */
const REPEATING: ReadonlySet<string> = new Set(['side', 'identity']);

function pageOnly(
  heard: readonly Rule[],
  hips: readonly HipEvaluation[],
  silenced: PatientRecord['silenced'],
  context: CardContext,
): PageOnly {
  const { cards, faults } = renderAll(
    heard.filter(({ tells }) => tells !== undefined),
    hips,
    silenced,
    context,
  );
  return { cards, faults };
}

/** A card whose wording can't be filled makes its rule "could not be evaluated"; the other cards stand. */
function renderAll(
  rules: readonly Rule[],
  hips: readonly HipEvaluation[],
  silenced: PatientRecord['silenced'],
  context: CardContext,
): {
  readonly cards: readonly AdvisoryCard[];
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
} {
  if (rules.length === 0) return { cards: [], hips, faults: [] };
  const byId = new Map(rules.map((rule) => [rule.id, rule]));
  const cards: AdvisoryCard[] = [];
  const faults: EngineFault[] = [];
  const shown = hips.map((hip) => {
    const advisories = hip.advisories.map((advisory): Advisory => {
      if (advisory.outcome !== 'fires') return advisory;
      const rule = byId.get(advisory.rule);
      if (!rule || !mayTell(rule, hip, silenced)) return advisory;
      try {
        cards.push(advisoryCard(rule, advisory, hip, context));
        return advisory;
      } catch (error) {
        faults.push({ rule: rule.id, hip: hip.hip, construct: hip.construct, error });
        return { ...advisory, outcome: 'cannot-tell', broken: true };
      }
    });
    return { ...hip, advisories };
  });
  return { cards, hips: shown, faults };
}
