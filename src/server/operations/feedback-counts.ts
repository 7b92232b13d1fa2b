import { Counter } from 'prom-client';
import type { Registry } from 'prom-client';
import type { Rulebook } from '../../rulebook/types.js';
import { labelAmong } from './known-labels.js';
import { OTHER } from './tally.js';

/** What is counted of a clinician's answer to a card. */
export interface CountedAnswer {
  readonly outcome: 'accepted' | 'overridden';
  readonly reason?: { readonly system?: string; readonly code: string };
}

/** Counts of what clinicians answered. */
export interface FeedbackCounts {
  /**
   * Counts one answer. The rule is the one whose card was answered, where that is known; a reason that the rulebook
   * does not offer, and a rule that it does not have, are counted as others.
   */
  readonly feedback: (answer: CountedAnswer, rule: string | undefined, rulebook: Rulebook) => void;
}

const NO_REASON = 'none';

export function countFeedback(register: Registry): FeedbackCounts {
  const accepted = new Counter({
    name: 'kotyle_accepted_total',
    help: 'Cards answered by taking a suggestion or by agreeing, by rule',
    labelNames: ['rule'],
    registers: [register],
  });
  const overridden = new Counter({
    name: 'kotyle_overridden_total',
    help: 'Cards overridden, by rule and by the reason that was offered',
    labelNames: ['rule', 'reason'],
    registers: [register],
  });
  return {
    feedback: ({ outcome, reason }, answered, rulebook) => {
      const rule = labelAmong(rulesOf(rulebook), answered);
      if (outcome === 'accepted') accepted.inc({ rule });
      else overridden.inc({ rule, reason: reasonLabel(reason, rulebook) });
    },
  };
}

function reasonLabel(reason: CountedAnswer['reason'], { about }: Rulebook): string {
  if (!reason) return NO_REASON;
  if (reason.system !== undefined && reason.system !== about.systems.overrideReason) return OTHER;
  const offered = Object.values(about.answers).flatMap(({ reasons }) => reasons.map(({ code }) => code));
  return labelAmong(new Set(offered), reason.code);
}

/** The rules of a rulebook, and the cards that are made from no rule. */
function rulesOf({ rules }: Rulebook): ReadonlySet<string> {
  return new Set([...rules.map(({ id }) => id), 'data-gap', 'more-advisories']);
}
