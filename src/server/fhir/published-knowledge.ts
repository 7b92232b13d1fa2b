import { contentHash } from '../../base/hash.js';
import { knowledgeResources } from '../../render/fhir/knowledge.js';
import type { Published } from '../../render/fhir/published.js';
import { PUBLISHED_TYPES } from '../../render/fhir/search-parameters.js';
import type { PublishedType } from '../../render/fhir/search-parameters.js';
import type { ServiceParts } from '../app.js';
import type { Installation } from '../installation.js';
import { locationOf } from '../served-at.js';

/** A resource as it is sent: written once, under the version of its content. */
export interface Item {
  readonly resource: Published;
  readonly text: string;
  readonly etag: string;
}

/** Everything an installation publishes, by type and id, in the order of the ids. */
export type PublishedKnowledge = ReadonlyMap<PublishedType, ReadonlyMap<string, Item>>;

export function publishedKnowledge(
  { advisor, site }: Installation,
  parts: Pick<ServiceParts, 'config' | 'engineVersion' | 'listeningAt'>,
): PublishedKnowledge {
  const served = { engine: parts.engineVersion, mode: parts.config.mode, ...locationOf(parts) };
  const resources = knowledgeResources(advisor.rulebook, served, site);
  return new Map(
    PUBLISHED_TYPES.map((type) => {
      const items = resources
        .filter(({ resourceType }) => resourceType === type)
        .sort((a, b) => (a.id < b.id ? -1 : 1))
        .map((resource) => [resource.id, itemOf(resource)] as const);
      return [type, new Map(items)];
    }),
  );
}

/** Enough of a hash to tell two contents of one resource apart. */
const VERSION_LENGTH = 16;

function itemOf(resource: Published): Item {
  const versionId = contentHash(resource).slice('sha256-'.length).slice(0, VERSION_LENGTH);
  const { resourceType, id, ...rest } = resource;
  const whole = { resourceType, id, meta: { versionId }, ...rest } as Published;
  return { resource: whole, text: JSON.stringify(whole), etag: `W/"${versionId}"` };
}
