import type { AdviceInput } from '../../advice/index.js';
import type { Pack } from '../../rulebook/pack.js';
import type { Site } from '../../rulebook/site.js';
import type { Answered } from './answered.js';
import type { AnswerDifference } from './compare-answers.js';

/** What the thread of a candidate is started with. */
export interface CandidateKnowledge {
  readonly pack: Pack;
  /** What the pack must turn out to be. */
  readonly hash: string;
}

/** The installation that calls from now on are answered in; sent only when it changed. */
export interface SiteMessage {
  readonly kind: 'site';
  readonly site: Site | undefined;
}

/** A call that was answered, for the candidate to answer too. */
export interface CallMessage {
  readonly kind: 'call';
  /** The call as it came: bytes are copied many times faster than what they mean. */
  readonly body: Uint8Array;
  /** Everything else; empty where the body says it. */
  readonly input: Omit<AdviceInput, 'site'>;
  /** Whether the context is that of the input, because the record system added to what the body says. */
  readonly isCompleted: boolean;
  readonly answered: Answered;
}

export type ToCandidate = SiteMessage | CallMessage;

/** What came of one call, or that the thread is ready for the first. */
export type FromCandidate =
  | { readonly kind: 'ready' }
  | { readonly kind: 'compared'; readonly differences: readonly AnswerDifference[] }
  | { readonly kind: 'failed'; readonly what: string };
