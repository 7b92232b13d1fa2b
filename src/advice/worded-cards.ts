import type { Advisory, EngineFault, HipEvaluation } from '../engine/evaluate.js';
import type { PatientRecord } from '../facts/patient-record.js';
import { advisoryCard } from '../render/card.js';
import type { AdvisoryCard } from '../render/card.js';
import type { CardContext } from '../render/card-types.js';
import type { Rule } from '../rulebook/types.js';

/** How cards are worded, and of which hips nothing is told. */
export interface Telling {
  readonly silenced: PatientRecord['silenced'];
  readonly context: CardContext;
  /** Cards are written out to the last word, and not only as far as somebody asks for them. */
  readonly whole?: true;
}

export interface WordedCards {
  readonly cards: readonly AdvisoryCard[];
  /** The hips, with what could not be worded as broken. */
  readonly hips: readonly HipEvaluation[];
  readonly faults: readonly EngineFault[];
}

/** A card whose wording can't be filled makes its rule "could not be evaluated"; the other cards stand. */
export function wordCards(
  rules: readonly Rule[],
  hips: readonly HipEvaluation[],
  telling: Telling,
): WordedCards {
  const cards: AdvisoryCard[] = [];
  const faults: EngineFault[] = [];
  const broken = new Set<Advisory>();
  const byId = new Map(rules.map((rule) => [rule.id, rule]));
  for (const hip of rules.length === 0 ? [] : hips) {
    for (const advisory of hip.advisories) {
      const rule = advisory.outcome === 'fires' ? byId.get(advisory.rule) : undefined;
      if (!rule || !mayTell(rule, hip, telling.silenced)) continue;
      try {
        const card = advisoryCard(rule, advisory, hip, telling.context);
        cards.push(telling.whole ? { ...card } : card);
      } catch (error) {
        faults.push({ rule: rule.id, hip: hip.hip, construct: hip.construct, error });
        broken.add(advisory);
      }
    }
  }
  return { cards, hips: broken.size === 0 ? hips : hips.map((hip) => withBroken(hip, broken)), faults };
}

function withBroken(hip: HipEvaluation, broken: ReadonlySet<Advisory>): HipEvaluation {
  const advisories = hip.advisories.map((advisory): Advisory =>
    broken.has(advisory) ? { ...advisory, outcome: 'cannot-tell', broken: true } : advisory,
  );
  return { ...hip, advisories };
}

/** Kinds of rule that no answer and no gate keeps quiet. */
const REPEATING: ReadonlySet<string> = new Set(['side', 'identity']);

/** Whose hip and which person it is gets asked again however often it was answered. */
export function isRepeating({ type }: Rule): boolean {
  return REPEATING.has(type);
}

/** Of a hip that is being reduced or operated on nothing is told but whose it is and which side. */
function mayTell(rule: Rule, hip: HipEvaluation, silenced: PatientRecord['silenced']): boolean {
  return isRepeating(rule) || !isSilenced(hip, silenced);
}

export function isSilenced({ hip }: HipEvaluation, silenced: PatientRecord['silenced']): boolean {
  return silenced.some((one) => one.hip === 'any' || one.hip === hip);
}
