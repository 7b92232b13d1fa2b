import type { DataSet } from '../../fhir/bundle.js';
import { nameOf } from '../../fhir/references.js';
import type { Located } from '../../fhir/references.js';

const WORST_FIRST = ['failed', 'absent', 'incomplete'] as const;

/** What several searches found together, each resource once: as well read as the worst of them. */
export function joinSets(sets: readonly DataSet[]): DataSet {
  const [only, ...others] = sets;
  if (only && others.length === 0) return only;
  const byName = new Map<string, Located>();
  for (const located of sets.flatMap((set) => set.resources)) byName.set(nameOf(located), located);
  const resources = [...byName.values()];
  for (const status of WORST_FIRST) {
    const worst = sets.find((set) => set.status === status);
    if (worst && worst.status !== 'complete') return { ...worst, resources };
  }
  return { status: 'complete', resources };
}
