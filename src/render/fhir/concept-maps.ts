import type { ConceptMap } from 'fhir/r4.js';
import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { canonicalOf } from './canonical.js';
import { programName } from './published.js';
import type { Published } from './published.js';

/** A site's maps as it wrote them, named and versioned with the site where a map does not say. */
export function siteConceptMaps(site: Site, { about }: Rulebook): readonly (ConceptMap & Published)[] {
  return site.conceptMaps.map(({ file, value }) => {
    const id = fhirId(`${site.id}-${file}`);
    // The part that is read was checked on loading; the rest is the site's own.
    const map = value as unknown as ConceptMap;
    return {
      ...map,
      id,
      url: map.url ?? canonicalOf('ConceptMap', id),
      version: map.version ?? site.version,
      name: map.name ?? programName(id),
      title: map.title ?? `Codes of ${site.id}: ${file}`,
      experimental: map.experimental ?? about.experimental,
      publisher: map.publisher ?? site.id,
      description:
        map.description ?? 'Local codes of one installation, and what this service takes them to mean.',
    };
  });
}

/** A path as an id: what an id may not have becomes a hyphen. */
function fhirId(path: string): string {
  return path
    .replace(/\.json$/, '')
    .replaceAll(/[^A-Za-z0-9.]+/g, '-')
    .slice(0, 64);
}
