import type { Json } from '../base/canonical-json.js';

/** What one evaluation was made from and what was shown: enough to make it again. */
export interface DecisionContent {
  /** The call as it was evaluated, with what was read for it. */
  readonly call: { readonly [member: string]: Json | undefined };
  /** The cards as they were sent. */
  readonly cards: Json;
}

/** Content that is about to be kept. */
export interface ContentToKeep extends DecisionContent {
  /** The body of the call, where its `prefetch` is that of `call`, which then leaves it out: most of a call is its prefetch, and it need not be written down a second time to be kept. */
  readonly sent?: Uint8Array;
}
