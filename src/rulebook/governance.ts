import { utcDay } from '../base/dates.js';
import { STATES } from './governance-schema.js';
import type { State } from './governance-schema.js';
import type { Site } from './site.js';
import type { Entry, Rulebook } from './types.js';

export type Mode = 'development' | 'production';

/** Knowledge, what the site decided about it, and the mode it is used in. */
export interface Governed {
  readonly rulebook: Pick<Rulebook, 'hash'>;
  readonly site?: Site;
  readonly mode: Mode;
}

/**
 * Why something has its state: `shipped`, nobody set anything; `service` and `rule`, the site says so; `hook`, the site
 * narrowed the rule to other hooks; `not-named` and `not-signed`, in production nothing speaks by itself.
 */
export interface Stated {
  readonly state: State;
  readonly why: 'shipped' | 'service' | 'rule' | 'hook' | 'not-named' | 'not-signed';
}

const SPEAKS: Stated = { state: 'speak', why: 'shipped' };

/** What of an installation is signed: the whole with its site, the rulebook alone, or nothing. Any change voids it. */
export function signatureOf({
  rulebook,
  site,
}: Omit<Governed, 'mode'>): 'installation' | 'rulebook' | 'none' {
  const signed = new Set(site?.approvals.map(({ contentHash }) => contentHash));
  if (site && signed.has(site.hash)) return 'installation';
  return signed.has(rulebook.hash) ? 'rulebook' : 'none';
}

/** What a service may do. In production only what is signed and named speaks. */
export function serviceState(governed: Governed, service: string): Stated {
  const named = governed.site?.services.get(service);
  if (named === 'off') return { state: named, why: 'service' };
  const isProduction = governed.mode === 'production';
  if (isProduction && signatureOf(governed) !== 'installation') return { state: 'silent', why: 'not-signed' };
  if (named !== undefined) return { state: named, why: 'service' };
  return isProduction ? { state: 'silent', why: 'not-named' } : SPEAKS;
}

/** Where and when a rule is asked. */
export interface Asked {
  readonly rule: string;
  readonly hook: Entry;
  /** The time of the evaluation as an ISO 8601 instant. */
  readonly now: string;
}

/** What a site lets one rule do. A setting whose last day has passed is none: the rule is as shipped again. */
export function ruleState(site: Site | undefined, { rule, hook, now }: Asked): Stated {
  const settings = site?.rules.get(rule);
  if (!settings || !holds(settings, now)) return SPEAKS;
  const { state = 'speak', hooks } = settings;
  const own: Stated = state === 'speak' ? SPEAKS : { state, why: 'rule' };
  return hooks && !hooks.includes(hook) ? stricter(own, { state: 'silent', why: 'hook' }) : own;
}

/** What a rule does at one hook of a service: the stricter of both. */
export function stateOf(governed: Governed, service: string, asked: Asked): Stated {
  return stricter(serviceState(governed, service), ruleState(governed.site, asked));
}

function stricter(a: Stated, b: Stated): Stated {
  return STATES.indexOf(b.state) < STATES.indexOf(a.state) ? b : a;
}

/** Whether what was decided until a day still holds: through the whole of that day, in UTC. */
export function holds({ until }: { readonly until: string }, now: string): boolean {
  return utcDay(now) <= until;
}
