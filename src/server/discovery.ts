import { prefetchTemplates, publishedServices } from '../advice/index.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';

/** The discovery document: the same bytes for the same rulebook. */
export function discovery(
  rulebook: Rulebook,
  distinctIds: boolean,
  site?: Site,
): {
  readonly services: readonly Readonly<Record<string, unknown>>[];
} {
  const services = publishedServices(distinctIds).map((service) => {
    const { title, description, usageRequirements } = rulebook.about.services[service.about];
    return {
      hook: service.hook,
      id: service.id,
      title,
      description,
      usageRequirements,
      prefetch: prefetchTemplates(service, rulebook, site?.measureCodes),
      extension: {
        'example.kotyle.service': {
          rulebook: rulebook.about.version,
          rulebookHash: rulebook.hash,
          rulebookStatus: rulebook.about.experimental
            ? `${rulebook.about.status}, experimental`
            : rulebook.about.status,
          mode: 'development',
          ...(site && { site: `${site.id} ${site.version}`, siteHash: site.hash }),
        },
      },
    };
  });
  return { services };
}
