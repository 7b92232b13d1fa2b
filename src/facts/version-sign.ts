import type { ConstructKind, VersionSignDefinition } from './definitions.js';
import { unknownFact } from './fact.js';
import type { Fact } from './fact.js';
import type { FactKnowledge } from './knowledge.js';

/**
 * Whether the sign of a cup's anteversion is shown. A plan states a direction; a measured cup shows it by its method, or
 * by the word that it was confirmed. A cup left in place was measured, also where the rest of the plan is a plan.
 */
export function isSignShown(
  { method, qualifiers, retained }: Fact,
  construct: ConstructKind,
  methodsShowingSign: ReadonlySet<string>,
): boolean {
  const confirmed = qualifiers?.['version-sign-confirmed'];
  if (typeof confirmed === 'boolean') return confirmed;
  const isPlan = construct === 'planned' && retained !== true;
  return isPlan || methodsShowingSign.has(method ?? '');
}

export function versionSignFact(
  definition: VersionSignDefinition,
  facts: ReadonlyMap<string, Fact>,
  construct: ConstructKind,
  { methodsShowingSign }: FactKnowledge,
): Fact {
  const { id } = definition;
  const version = facts.get(definition.of);
  if (version?.state.status !== 'present') return unread(id, definition.of, version);
  const code = isSignShown(version, construct, methodsShowingSign) ? 'shown' : 'not-shown';
  const { provenance, remarks } = version;
  return { id, state: { status: 'present', value: { kind: 'code', codes: [code] } }, provenance, remarks };
}

/** Without the angle there is no sign to ask for: whatever would settle the angle would settle this. */
function unread(id: string, of: string, version: Fact | undefined): Fact {
  if (version?.state.status !== 'unknown')
    return { ...unknownFact(id, 'not-recorded'), state: unknownFor(of) };
  const { provenance, setsMissing, state } = version;
  return { ...unknownFact(id, state.reason, { provenance, ...(setsMissing && { setsMissing }) }), state };
}

function unknownFor(of: string): Fact['state'] {
  return { status: 'unknown', reason: 'not-recorded', needs: [of] };
}
