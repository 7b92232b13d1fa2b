import { SERVICES, siteServiceId } from '../../advice/index.js';
import { governance } from '../../rulebook/governance-report.js';
import { ruleState } from '../../rulebook/governance.js';
import type { Site } from '../../rulebook/site.js';
import type { Entry, Rulebook } from '../../rulebook/types.js';
import type { GovernanceFigures } from './readiness-types.js';

export interface Installed {
  readonly rulebook: Rulebook;
  readonly site?: Site;
  /** ISO 8601 instant. */
  readonly now: string;
}

/** What a signature is over: the installation with its site, or the rulebook alone. */
export function signedContent({ rulebook, site }: Omit<Installed, 'now'>): string {
  return site?.hash ?? rulebook.hash;
}

/** What the installation says in production: as it is, and once somebody has signed exactly this. */
export function governanceFigures({ rulebook, site, now }: Installed): GovernanceFigures {
  const { ceilings } = rulebook.about;
  return {
    now: governance({ rulebook, ...(site && { site }) }, 'production', now),
    signed: governance({ rulebook, ...(site && { site: signed(site) }) }, 'production', now),
    ceilings: SERVICES.map(({ hook }) => ({
      hook,
      most: site?.ceiling.get(hook) ?? ceilings[hook],
      shipped: ceilings[hook],
    })),
    audience: [...new Set(SERVICES.map(siteServiceId))].flatMap((service) => {
      const roles = site?.audience.get(service) ?? [];
      return roles.length === 0 ? [] : [{ service, roles }];
    }),
  };
}

function signed(site: Site): Site {
  const approval = { by: 'whoever signs', role: '-', date: '1970-01-01', contentHash: site.hash };
  return { ...site, approvals: [approval] };
}

/** What the installation lets a rule do at the hooks where it is asked, in words. */
export function ruleStateText({ site, now }: Installed, rule: string, hooks: readonly Entry[]): string {
  const states = hooks.map((hook) => ({ hook, ...ruleState(site, { rule, hook, now }) }));
  const [first] = states;
  if (first && states.every(({ state }) => state === first.state)) return first.state;
  return states.map(({ hook, state }) => `${state} at ${hook}`).join(', ');
}
