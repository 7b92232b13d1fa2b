import { Counter } from 'prom-client';
import type { Registry } from 'prom-client';
import type { Advice } from '../../advice/index.js';
import { newTally } from './tally.js';

/** Counts of what answers said. */
export interface AnswerCounts {
  /** Counts an answer: outcomes by rule, cards, what was kept back, and which missing facts left a rule undecided. */
  readonly answer: (hook: string, advice: Advice, leniencies: readonly string[]) => void;
}

export function countAnswers(register: Registry): AnswerCounts {
  const recognised = newTally({
    name: 'kotyle_recognised_total',
    help: 'Calls answered, by whether they were about a hip replacement',
    labelNames: ['hook', 'recognised'],
    register,
  });
  const outcomes = newTally({
    name: 'kotyle_outcomes_total',
    help: 'What each rule said of each construct of each hip',
    labelNames: ['rule', 'outcome'],
    register,
  });
  const cards = newTally({
    name: 'kotyle_cards_total',
    help: 'Cards sent, by rule and hook',
    labelNames: ['rule', 'hook'],
    register,
  });
  const kept = newTally({
    name: 'kotyle_cards_kept_back_total',
    help: 'Cards of rules that fired and that were not sent, and why',
    labelNames: ['rule', 'why'],
    register,
  });
  const missing = newTally({
    name: 'kotyle_cannot_tell_total',
    help: 'Rules left undecided, by hook and by each fact that would have settled them',
    labelNames: ['hook', 'fact'],
    register,
  });
  const leniency = newTally({
    name: 'kotyle_leniencies_total',
    help: 'Departures from the standard that were let pass',
    labelNames: ['hook', 'leniency'],
    register,
  });
  const faults = new Counter({
    name: 'kotyle_rule_faults_total',
    help: 'Rules that broke and were answered as cannot tell',
    labelNames: ['rule'],
    registers: [register],
  });
  return {
    answer: (hook, advice, leniencies) => {
      for (const each of leniencies) leniency.add(hook, each);
      if (advice.kind !== 'answer') return;
      recognised.add(hook, advice.record?.recognised ?? 'not-asked');
      for (const { advisories } of advice.hips)
        for (const { rule, outcome, needs } of advisories) {
          outcomes.add(rule, outcome);
          if (outcome === 'cannot-tell') for (const fact of needs) missing.add(hook, fact);
        }
      for (const { source } of advice.cards) cards.add(source.topic.code, hook);
      for (const { card, why } of advice.kept) kept.add(card.rule, why);
      for (const { rule } of advice.faults) faults.inc({ rule });
    },
  };
}
