import type { ConstructKind } from './definitions.js';
import type { Fact } from './fact.js';

/**
 * Puts a site's usual choices (approach, repair, head) where a plan says nothing, each marked as assumed. Only what is
 * really not recorded: a value that was refused, contradicted or not read at all is not replaced by what is usual, and
 * what is in a patient is never assumed.
 */
export function applyDefaults(
  facts: ReadonlyMap<string, Fact>,
  defaults: readonly Fact[],
  construct: ConstructKind,
): ReadonlyMap<string, Fact> {
  if (construct !== 'planned') return facts;
  const wanted = defaults.filter(({ id }) => isUnrecorded(facts.get(id)));
  if (wanted.length === 0) return facts;
  return new Map([...facts, ...wanted.map((fact) => [fact.id, fact] as const)]);
}

function isUnrecorded(fact: Fact | undefined): boolean {
  return fact?.state.status === 'unknown' && fact.state.reason === 'not-recorded';
}
