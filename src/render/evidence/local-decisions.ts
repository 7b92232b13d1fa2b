import type { Site } from '../../rulebook/site.js';
import type { Rulebook } from '../../rulebook/types.js';
import { quantityText } from '../words.js';
import type { EvidencePage } from './evidence-page.js';

/** What an installation decided about a rule and the limits it names, each with its last day; not who decided it. */
export function localDecisions(
  { rule, why }: EvidencePage,
  site: Site,
  rulebook: Rulebook,
): readonly string[] {
  const settings = site.rules.get(rule);
  const limits = why.limits.flatMap(({ id, value }) => {
    const local = site.parameters.get(id);
    return local
      ? [
          `${id}: ${quantityText(local.value, rulebook.parameters.get(id)?.unit)} in place of ${value}, until ${local.until}: ${local.why}`,
        ]
      : [];
  });
  if (!settings) return limits;
  const { state, hooks, note, reviewBy, until, why: reason } = settings;
  const parts = [
    ...(state === undefined ? [] : [`state: ${state}`]),
    ...(hooks ? [`only at: ${hooks.join(', ')}`] : []),
    ...(note === undefined ? [] : [`note: ${note}`]),
    ...(reviewBy === undefined ? [] : [`to be reviewed by ${reviewBy}`]),
  ];
  return [...limits, `${parts.join('; ')}, until ${until}: ${reason}`];
}
