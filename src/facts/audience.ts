import { codingKey, codingsOfAll } from '../fhir/codings.js';
import type { SystemAliases } from '../fhir/codings.js';
import type { Located } from '../fhir/references.js';

/** Whether the site knows the reader's role for a service: it lists none, lists this one, or lists others. */
export type Audience = 'anybody' | 'listed' | 'not-listed';

/** Compares the roles of the user's PractitionerRole with those the site lists for a service, as `system|code`. */
export function audienceOf(
  users: readonly Located[],
  listed: readonly string[] | undefined,
  aliases: SystemAliases,
): Audience {
  if (!listed || listed.length === 0) return 'anybody';
  const roles = users
    .filter(({ resource }) => resource['resourceType'] === 'PractitionerRole' && resource['active'] !== false)
    .flatMap(({ resource }) => codingsOfAll(resource['code'], aliases))
    .flatMap((coding) => codingKey(coding) ?? []);
  return roles.some((role) => listed.includes(role)) ? 'listed' : 'not-listed';
}
