import type { UnclearDefinition } from './definitions.js';
import { absentFact, unknownFact } from './fact.js';
import type { Fact } from './fact.js';

/**
 * Whether codes on record leave a diagnosis open. What is known of the diagnosis, either way, leaves nothing open; what
 * could not be read may hold such a code.
 */
export function unclearFact(definition: UnclearDefinition, facts: ReadonlyMap<string, Fact>): Fact {
  const { id, title } = definition;
  const diagnosis = facts.get(definition.of);
  if (diagnosis?.state.status !== 'unknown') return absentFact(id);
  const { provenance, setsMissing, state } = diagnosis;
  if (state.reason !== 'code-unclear')
    return unknownFact(id, state.reason, { provenance, ...(setsMissing && { setsMissing }) });
  return {
    id,
    state: { status: 'present', value: { kind: 'recorded', texts: [title] } },
    provenance,
    remarks: [],
  };
}
