import { contentHash } from '../base/hash.js';
import { foundIn } from './compare.js';
import type { Advisory } from './evaluate.js';

/** Who acknowledges, and what makes it the same finding when it is met again. */
export interface Acknowledging {
  readonly reader: 'scheduler' | 'clinician';
  /** Facts that count with their last date. */
  readonly episodic: readonly string[];
  /** Known to the service only: without it nobody can try out which values are behind an acknowledgement. */
  readonly nameSecret?: string | undefined;
}

/**
 * What a reader acknowledges by answering a card: this rule, in this version, on these facts of this hip, in the words
 * for such a reader: whoever books never saw what the surgeon's card says. Where a
 * value came from and when is left out, so that the same finding read again stays acknowledged; a new value does not,
 * nor does a hip that came out again: an `episodic` fact counts with its last date, while a diagnosis that each visit
 * records anew is the same one.
 */
export function acknowledgementOf(
  { rule, ruleVersion, hip, construct, fired }: Advisory,
  { reader, episodic, nameSecret: secret }: Acknowledging,
): string {
  const facts = (fired?.facts ?? []).map(({ id, state, unit, stage, qualifiers, provenance }) => ({
    id,
    value: state.status === 'present' ? foundIn(state.value).found : state.status,
    ...(episodic.includes(id) && { last: provenance.lastDate ?? provenance.date }),
    ...(unit !== undefined && { unit }),
    ...(stage !== undefined && { stage }),
    ...(qualifiers && { qualifiers }),
  }));
  return contentHash({ rule, ruleVersion, hip, construct, facts, reader, secret });
}
