import type { FhirResource } from 'fhir/r4.js';

/** The base of every canonical URL of ours: fixed, because a canonical names what it is and not where it is served. */
const BASE = 'https://kotyle.example/fhir';

/** The canonical URL of a resource of ours, without a version. */
export function canonicalOf(type: FhirResource['resourceType'], id: string): string {
  return `${BASE}/${type}/${id}`;
}

/** A reference to one version of a resource: what is published refers to nothing that may change under it. */
export function pinned(canonical: string, version: string): string {
  return `${canonical}|${version}`;
}

/** The system under which the hash of a rulebook or an installation is an identifier. */
export const HASH_SYSTEM = `${BASE}/content-hash`;
