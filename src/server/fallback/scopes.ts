/** How much of one resource type a token may read. */
export type Grant = 'whole' | 'part' | 'none';

/** SMART App Launch version 1: `patient/Condition.read`; version 2: `patient/Condition.rs`, with `?` for a part of it. */
const SCOPE =
  /^(?:patient|user|system)\/(?<type>\*|[A-Z][A-Za-z]+)\.(?<rights>read|write|\*|c?r?u?d?s?)(?<part>\?.*)?$/;

/**
 * What the scopes grant for reading (`r`) or searching (`s`) a type. Without a scope string nobody can tell, so that
 * asking decides. A scope with a query grants a part, which the server picks without saying so.
 */
export function grantOf(scopes: string | undefined, type: string, right: 'r' | 's'): Grant {
  if (scopes === undefined || scopes.trim() === '') return 'whole';
  let grant: Grant = 'none';
  for (const scope of scopes.trim().split(/\s+/)) {
    const found = SCOPE.exec(scope)?.groups;
    if (found?.['type'] !== '*' && found?.['type'] !== type) continue;
    if (!includesRight(found['rights'] ?? '', right)) continue;
    if (found['part'] === undefined) return 'whole';
    grant = 'part';
  }
  return grant;
}

function includesRight(rights: string, right: 'r' | 's'): boolean {
  if (rights === 'read' || rights === '*') return true;
  return rights !== 'write' && rights.includes(right);
}
