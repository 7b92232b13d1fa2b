import type { Advice } from '../../advice/index.js';
import { asText } from '../../fhir/json.js';
import type { Card } from '../../render/card-types.js';

/**
 * What was answered to a call, reduced to what two rulebooks can be compared by. Small, because it is copied to another
 * thread after every answer.
 */
export interface Answered {
  /** What recognition said; of a call that got no answer, why. */
  readonly recognised: string;
  readonly hips: readonly AnsweredHip[];
  readonly cards: readonly AnsweredCard[];
  /** Rules that could not be evaluated, for want of a working computation or wording. */
  readonly broken: readonly string[];
}

export interface AnsweredHip {
  readonly hip: string;
  readonly construct: string;
  /** One line a rule, its id and its outcome: one text costs less to copy than as many objects. */
  readonly outcomes: string;
}

export interface AnsweredCard {
  readonly rule: string;
  readonly hip: string;
  readonly construct: string;
  readonly indicator: string;
  readonly words: string;
}

/** Reduces an answer to what is compared. */
export function answeredOf(advice: Advice): Answered {
  if (advice.kind !== 'answer') return { recognised: advice.kind, hips: [], cards: [], broken: [] };
  const { cards, withheld = [], hips, faults } = advice;
  return {
    recognised: advice.off ? 'off' : (advice.record?.recognised ?? 'no'),
    hips: hips.map(({ hip, construct, advisories }) => ({
      hip,
      construct,
      outcomes: advisories.map(({ rule, outcome }) => `${rule} ${outcome}`).join('\n'),
    })),
    // What a silent service would have shown is what it is silent for.
    cards: [...cards, ...withheld].map(answeredCard),
    broken: [...new Set(faults.map(({ rule }) => rule))],
  };
}

function answeredCard({ indicator, source, summary, detail, extension }: Card): AnsweredCard {
  const about = extension['example.kotyle.advisory'];
  return {
    rule: source.topic.code,
    hip: asText(about['hip']) ?? 'any',
    construct: asText(about['construct']) ?? 'any',
    indicator,
    words: `${summary}\n${withoutVersions(detail)}`,
  };
}

/** The last block of a card says which version of what spoke: of two rulebooks it always differs. */
function withoutVersions(detail: string): string {
  const end = detail.lastIndexOf('\n\n');
  return end < 0 ? detail : detail.slice(0, end);
}
