import { sortedUnique } from '../../base/order.js';
import type { Answered, AnsweredCard } from './answered.js';

/** One thing the candidate would say and what was answered does not, or the reverse. No value of a patient is in it. */
export interface AnswerDifference {
  readonly kind: 'outcome' | 'card' | 'fault';
  readonly hip?: string;
  readonly construct?: string;
  readonly rule?: string;
  readonly was?: string;
  readonly would?: string;
}

/** Stands for the outcome of a rule, or for a hip, that only one of the two has. */
const NONE = 'none';

/** Outcome by outcome and card by card: what would change for whoever asked. */
export function differencesBetween(was: Answered, would: Answered): readonly AnswerDifference[] {
  const recognition: readonly AnswerDifference[] =
    was.recognised === would.recognised
      ? []
      : [{ kind: 'outcome', was: was.recognised, would: would.recognised }];
  const faults = would.broken
    .filter((rule) => !was.broken.includes(rule))
    .map((rule): AnswerDifference => ({ kind: 'fault', rule, would: 'could not be evaluated' }));
  return [...recognition, ...outcomeDifferences(was, would), ...cardDifferences(was, would), ...faults];
}

/** Outcomes that nobody is told of: a rule that only one rulebook has, and that has nothing to say, changes nothing. */
const QUIET: ReadonlySet<string> = new Set(['does-not-fire', 'not-applicable']);

function outcomeDifferences(was: Answered, would: Answered): readonly AnswerDifference[] {
  const [before, after] = [outcomesByHip(was), outcomesByHip(would)];
  return sortedUnique([...before.keys(), ...after.keys()]).flatMap((place) => {
    const [old, next] = [before.get(place), after.get(place)];
    // Nearly every call: the two texts are the same, and nothing needs to be taken apart.
    if (old === next) return [];
    const [hip = '', construct = ''] = place.split(' ');
    const [oldByRule, nextByRule] = [byRule(old), byRule(next)];
    return sortedUnique([...oldByRule.keys(), ...nextByRule.keys()]).flatMap((rule): AnswerDifference[] => {
      const [one = NONE, other = NONE] = [oldByRule.get(rule), nextByRule.get(rule)];
      const isSilent = [one, other].every((outcome) => outcome === NONE || QUIET.has(outcome));
      if (one === other || (isSilent && [one, other].includes(NONE))) return [];
      return [{ kind: 'outcome', hip, construct, rule, was: one, would: other }];
    });
  });
}

function outcomesByHip({ hips }: Answered): ReadonlyMap<string, string> {
  return new Map(hips.map(({ hip, construct, outcomes }) => [`${hip} ${construct}`, outcomes]));
}

function byRule(outcomes = ''): ReadonlyMap<string, string> {
  const lines = outcomes === '' ? [] : outcomes.split('\n');
  return new Map(lines.map((line) => line.split(' ') as [rule: string, outcome: string]));
}

function cardDifferences(was: Answered, would: Answered): readonly AnswerDifference[] {
  const [before, after] = [byPlace(was.cards), byPlace(would.cards)];
  return sortedUnique([...before.keys(), ...after.keys()]).flatMap((place): AnswerDifference[] => {
    const [old, next] = [before.get(place), after.get(place)];
    const { rule, hip, construct } = (old ?? next) as AnsweredCard;
    const about = { kind: 'card', rule, hip, construct } as const;
    if (old?.indicator !== next?.indicator)
      return [{ ...about, was: old?.indicator ?? NONE, would: next?.indicator ?? NONE }];
    if (old?.words === next?.words) return [];
    return [{ ...about, was: 'these words', would: 'other words' }];
  });
}

function byPlace(cards: readonly AnsweredCard[]): ReadonlyMap<string, AnsweredCard> {
  return new Map(cards.map((card) => [`${card.rule} ${card.hip} ${card.construct}`, card]));
}
