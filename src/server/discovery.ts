import { prefetchTemplates } from '../advice/index.js';
import type { Hook } from '../advice/index.js';
import type { Site } from '../rulebook/site.js';
import type { Rulebook } from '../rulebook/types.js';
import type { Config } from './config.js';
import { listedServices } from './listed-services.js';

/** The versions of the hook definitions, as the CDS Hooks library publishes them. */
const HOOK_VERSIONS: Readonly<Record<Hook, string>> = {
  'appointment-book': '1.0',
  'order-select': '1.0',
  'order-sign': '1.0',
  'patient-view': '1.0',
};

/** The discovery document: the same bytes for the same rulebook. */
export function discovery(
  rulebook: Rulebook,
  {
    distinctIds,
    mode,
    hooksVersion,
    publicUrl,
  }: Pick<Config, 'distinctIds' | 'mode' | 'hooksVersion' | 'publicUrl'>,
  site?: Site,
): {
  readonly services: readonly Readonly<Record<string, unknown>>[];
} {
  const governed = { rulebook, ...(site && { site }), mode };
  const services = listedServices(governed, { distinctIds }).map(({ service, stated }) => {
    const { title, description, usageRequirements } = rulebook.about.services[service.about];
    return {
      hook: service.hook,
      id: service.id,
      title,
      description,
      usageRequirements,
      // CDS Hooks 2.0 has no members for its own version or a hook's.
      ...(hooksVersion !== '2.0.1' && { version: hooksVersion, hookVersion: HOOK_VERSIONS[service.hook] }),
      prefetch: prefetchTemplates(service, rulebook, site?.measureCodes),
      extension: {
        'example.kotyle.service': {
          rulebook: rulebook.about.version,
          rulebookHash: rulebook.hash,
          rulebookStatus: rulebook.about.experimental
            ? `${rulebook.about.status}, experimental`
            : rulebook.about.status,
          mode,
          ...(stated.state !== 'speak' && { state: stated.state, why: stated.why }),
          ...(site && { site: `${site.id} ${site.version}`, siteHash: site.hash }),
          ...(publicUrl !== undefined && { documentation: `${publicUrl}/evidence/` }),
        },
      },
    };
  });
  return { services };
}
