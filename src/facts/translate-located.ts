import type { Located } from '../fhir/references.js';
import type { SiteMaps } from './site-map-index.js';
import { translated } from './site-maps.js';

/** Translates a resource where it stands; the same value comes back when no map has anything to say. */
export function translateLocated(located: Located, maps: SiteMaps): Located {
  const translation = translated(located.resource, maps);
  return translation ? { ...located, resource: translation.resource, translation } : located;
}
