import { utcDay } from '../base/dates.js';
import { holds, serviceState, signatureOf } from './governance.js';
import type { Governed, Mode, Stated } from './governance.js';
import type { Approval, State } from './governance-schema.js';
import { SITE_SERVICES } from './governance-schema.js';
import type { Site } from './site.js';
import type { Entry, Rulebook } from './types.js';

/** What an installation says and keeps quiet, within which limits, and who signed it: for logs, reports and whoever signs. */
export interface Governance {
  readonly mode: Mode;
  readonly signature: ReturnType<typeof signatureOf>;
  readonly rulebook: { readonly version: string; readonly hash: string; readonly status: string };
  readonly site?: { readonly id: string; readonly version: string; readonly hash: string };
  readonly approvals: readonly (Approval & { readonly of: 'installation' | 'rulebook' | 'something else' })[];
  readonly services: readonly (Stated & { readonly service: string })[];
  readonly rules: readonly GovernedRule[];
  readonly parameters: readonly GovernedLimit[];
  /** What whoever looks after the installation should see to. */
  readonly notices: readonly Notice[];
}

export interface GovernedRule {
  readonly rule: string;
  readonly state: State;
  readonly hooks?: readonly Entry[];
  readonly note?: string;
  readonly reviewBy?: string;
  readonly until: string;
  readonly ended: boolean;
}

export interface GovernedLimit {
  readonly parameter: string;
  readonly value: number;
  readonly unit: string;
  readonly rulebook: number;
  readonly until: string;
  readonly ended: boolean;
}

/** No fault, and worth knowing: where in the site file, what would be better, what is. */
export interface Notice {
  readonly path: string;
  readonly expected: string;
  readonly found: string;
}

export interface Installed {
  readonly rulebook: Rulebook;
  readonly site?: Site;
}

/** An installation's governance at one time, an ISO 8601 instant. */
export function governance({ rulebook, site }: Installed, mode: Mode, now: string): Governance {
  const governed: Governed = { rulebook, ...(site && { site }), mode };
  const { version, status, experimental } = rulebook.about;
  return {
    mode,
    signature: signatureOf(governed),
    rulebook: { version, hash: rulebook.hash, status: experimental ? `${status}, experimental` : status },
    ...(site && { site: { id: site.id, version: site.version, hash: site.hash } }),
    approvals: (site?.approvals ?? []).map((approval) => ({ ...approval, of: signedBy(approval, governed) })),
    services: SITE_SERVICES.map((service) => ({ service, ...serviceState(governed, service) })),
    rules: rulesOf(site, now),
    parameters: limitsOf({ rulebook, ...(site && { site }) }, now),
    notices: [...signatureNotices(governed), ...(site ? dayNotices({ rulebook, site }, now) : [])],
  };
}

function signedBy(
  { contentHash }: Approval,
  { rulebook, site }: Governed,
): Governance['approvals'][number]['of'] {
  if (contentHash === site?.hash) return 'installation';
  return contentHash === rulebook.hash ? 'rulebook' : 'something else';
}

function rulesOf(site: Site | undefined, now: string): readonly GovernedRule[] {
  return [...(site?.rules ?? [])].map(([rule, settings]) => {
    const { state = 'speak', hooks, note, reviewBy, until } = settings;
    return {
      rule,
      state,
      ...(hooks && { hooks }),
      ...(note !== undefined && { note }),
      ...(reviewBy !== undefined && { reviewBy }),
      until,
      ended: !holds(settings, now),
    };
  });
}

function limitsOf({ rulebook, site }: Installed, now: string): readonly GovernedLimit[] {
  return [...(site?.parameters ?? [])].flatMap(([parameter, limit]) => {
    const { value, unit, until } = limit;
    const shipped = rulebook.parameters.get(parameter)?.value;
    return typeof shipped === 'number'
      ? [{ parameter, value, unit, rulebook: shipped, until, ended: !holds(limit, now) }]
      : [];
  });
}

function signatureNotices(governed: Governed): readonly Notice[] {
  const { site } = governed;
  if (!site || signatureOf(governed) === 'installation') return [];
  const found = site.approvals.length === 0 ? 'none' : 'approvals of other content';
  const expected = `an approval of ${site.hash}, without which nothing speaks in production`;
  return [{ path: 'approvals', expected, found }];
}

/** How long before its end a setting is told of. */
const SOON_DAYS = 30;
const DAY_MS = 86_400_000;

function dayNotices({ rulebook, site }: Required<Installed>, now: string): readonly Notice[] {
  const today = utcDay(now);
  const named = [
    ...[...site.rules].map(([id, { until }]) => ({ path: `rules.${id}.until`, until })),
    ...[...site.parameters].map(([id, { until }]) => ({ path: `parameters.${id}.until`, until })),
  ];
  const ends = named.flatMap(({ path, until }): readonly Notice[] => {
    const days = (Date.parse(until) - Date.parse(today)) / DAY_MS;
    if (days >= SOON_DAYS) return [];
    const found = days < 0 ? `${until}, which has passed: the rulebook counts` : `${until}, in ${days} days`;
    return [{ path, expected: `a day ${SOON_DAYS} days or more ahead`, found }];
  });
  const reviews = [...site.rules].flatMap(([id, { reviewBy }]): readonly Notice[] =>
    reviewBy !== undefined && reviewBy < today
      ? [{ path: `rules.${id}.reviewBy`, expected: `a review by ${reviewBy}`, found: 'none since' }]
      : [],
  );
  const locals = limitsOf({ rulebook, site }, now).map(({ parameter, value, unit, rulebook: shipped }) => ({
    path: `parameters.${parameter}.value`,
    expected: `${shipped} ${unit} in the rulebook`,
    found: `${value} ${unit} here`,
  }));
  const future = site.approvals.flatMap(({ date }, index): readonly Notice[] =>
    date > today ? [{ path: `approvals[${index}].date`, expected: `a day up to ${today}`, found: date }] : [],
  );
  return [...ends, ...reviews, ...locals, ...future];
}
