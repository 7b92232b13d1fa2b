import { contentHash } from '../base/hash.js';
import { foundIn } from './compare.js';
import type { Advisory } from './evaluate.js';

/**
 * What a reader acknowledges by answering a card: this rule, in this version, on these facts of this hip, in the words
 * for such a reader: whoever books never saw what the surgeon's card says. Where a
 * fact came from and when is left out, so that the same finding read again stays acknowledged; a new value does not.
 */
export function acknowledgementOf(
  { rule, ruleVersion, hip, construct, fired }: Advisory,
  reader: 'scheduler' | 'clinician',
): string {
  const facts = (fired?.facts ?? []).map(({ id, state, unit, stage, qualifiers }) => ({
    id,
    value: state.status === 'present' ? foundIn(state.value).found : state.status,
    ...(unit !== undefined && { unit }),
    ...(stage !== undefined && { stage }),
    ...(qualifiers && { qualifiers }),
  }));
  return contentHash({ rule, ruleVersion, hip, construct, facts, reader });
}
