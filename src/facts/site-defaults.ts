import type { ConstructKind } from './definitions.js';
import type { Fact } from './fact.js';

/** What a site usually does, as the planned fact that stands for it. */
export interface SiteDefault {
  readonly fact: Fact;
  /** Components whose geometry it is; empty when it belongs to none. */
  readonly partOf: readonly string[];
}

/**
 * Puts a site's usual choices (approach, repair, head) where a plan says nothing, each marked as assumed. Only what is
 * really not recorded: a value that was refused, contradicted or not read at all is not replaced by what is usual, and
 * nothing is assumed of what is in a patient, a component that the plan retains included.
 */
export function applyDefaults(
  facts: ReadonlyMap<string, Fact>,
  defaults: readonly SiteDefault[],
  construct: ConstructKind,
): ReadonlyMap<string, Fact> {
  if (construct !== 'planned') return facts;
  const wanted = defaults.filter((each) => isUnrecorded(facts.get(each.fact.id)) && !mayStay(each, facts));
  if (wanted.length === 0) return facts;
  return new Map([...facts, ...wanted.map(({ fact }) => [fact.id, fact] as const)]);
}

function isUnrecorded(fact: Fact | undefined): boolean {
  return fact?.state.status === 'unknown' && fact.state.reason === 'not-recorded';
}

/** The component is left in the hip, or nobody can tell whether it is. */
function mayStay({ partOf }: SiteDefault, facts: ReadonlyMap<string, Fact>): boolean {
  const retained = facts.get('component-retained');
  if (partOf.length === 0 || !retained || isUnrecorded(retained)) return false;
  const { state } = retained;
  if (state.status !== 'present' || state.value.kind !== 'code') return state.status !== 'absent';
  const { codes } = state.value;
  return partOf.every((part) => codes.includes(part));
}
