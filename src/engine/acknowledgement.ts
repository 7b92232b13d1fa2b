import { contentHash } from '../base/hash.js';
import { foundIn } from './compare.js';
import type { Advisory } from './evaluate.js';

/**
 * What a reader acknowledges by answering a card: this rule, in this version, on these facts of this hip, in the words
 * for such a reader: whoever books never saw what the surgeon's card says. Where a
 * value came from and when is left out, so that the same finding read again stays acknowledged; a new value does not,
 * nor does a hip that came out again: an `episodic` fact counts with its last date, while a diagnosis that each visit
 * records anew is the same one.
 */
export function acknowledgementOf(
  { rule, ruleVersion, hip, construct, fired }: Advisory,
  reader: 'scheduler' | 'clinician',
  episodic: readonly string[],
): string {
  const facts = (fired?.facts ?? []).map(({ id, state, unit, stage, qualifiers, provenance }) => ({
    id,
    value: state.status === 'present' ? foundIn(state.value).found : state.status,
    ...(episodic.includes(id) && { last: provenance.lastDate ?? provenance.date }),
    ...(unit !== undefined && { unit }),
    ...(stage !== undefined && { stage }),
    ...(qualifiers && { qualifiers }),
  }));
  return contentHash({ rule, ruleVersion, hip, construct, facts, reader });
}
