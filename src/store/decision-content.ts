import type { Json } from '../base/canonical-json.js';

/** What one evaluation was made from and what was shown: enough to make it again. */
export interface DecisionContent {
  /** The call as it was evaluated, with what was read for it. */
  readonly call: { readonly [member: string]: Json | undefined };
  /** The cards as they were sent. */
  readonly cards: Json;
}
