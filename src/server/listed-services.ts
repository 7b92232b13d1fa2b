import { publishedServices, siteServiceId } from '../advice/index.js';
import type { Service } from '../advice/index.js';
import { serviceState } from '../rulebook/governance.js';
import type { Governed, Stated } from '../rulebook/governance.js';
import type { Config } from './config.js';
import type { Installation } from './installation.js';

/** A service as it is published, and what its installation lets it do. */
export interface ListedService {
  readonly service: Service;
  readonly stated: Stated;
}

/** The services of an installation: all that it did not turn off. */
export function listedServices(
  governed: Governed,
  { distinctIds }: Pick<Config, 'distinctIds'>,
): readonly ListedService[] {
  return publishedServices(distinctIds)
    .map((service) => ({ service, stated: serviceState(governed, siteServiceId(service)) }))
    .filter(({ stated }) => stated.state !== 'off');
}

/** An installation in the mode it is used in. */
export function governedBy({ advisor, site }: Installation, { mode }: Pick<Config, 'mode'>): Governed {
  return { rulebook: advisor.rulebook, ...(site && { site }), mode };
}
