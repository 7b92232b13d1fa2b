import { holds, ruleState } from '../rulebook/governance.js';
import { localRulebook } from '../rulebook/local-rulebook.js';
import type { Site } from '../rulebook/site.js';
import type { Entry } from '../rulebook/types.js';
import type { Advisor } from './advise.js';
import { newAdvisor } from './advisor.js';

/** Advisors made for what an installation decided: days end, so one may have several over time, and each is kept. */
const made = new WeakMap<Advisor, Map<string, Advisor>>();

/**
 * The advisor as an installation has decided at this time: with its own limits, and without the rules that are off at
 * this hook. The same one at every call until a day ends; the one given where nothing was decided.
 */
export function localAdvisor(
  advisor: Advisor,
  { site, hook, now }: { readonly site: Site | undefined; readonly hook: Entry; readonly now: string },
): Advisor {
  if (!site || (site.parameters.size === 0 && site.rules.size === 0)) return advisor;
  const limits = [...site.parameters].flatMap(([id, limit]) =>
    holds(limit, now) ? [[id, limit.value] as const] : [],
  );
  const off = [...site.rules.keys()].filter((rule) => ruleState(site, { rule, hook, now }).state === 'off');
  if (limits.length === 0 && off.length === 0) return advisor;
  const key = JSON.stringify([limits, off]);
  const known = made.get(advisor) ?? new Map<string, Advisor>();
  made.set(advisor, known);
  const local =
    known.get(key) ??
    newAdvisor(
      localRulebook(advisor.rulebook, { limits: new Map(limits), off: new Set(off) }),
      advisor.computations,
    );
  known.set(key, local);
  return local;
}
