import type { Report } from './check-rules.js';
import type { Approval, LocalLimit, RuleSettings, State } from './governance-schema.js';
import type { Parsed } from './parse.js';
import type { SiteFile } from './site-schema.js';
import type { Rule, Rulebook } from './types.js';

/** What a site decides about the rulebook. */
export interface SiteGovernance {
  /** What each service it names may do. */
  readonly services: ReadonlyMap<string, State>;
  /** What it sets for single rules, each until a day. */
  readonly rules: ReadonlyMap<string, RuleSettings>;
  /** Limits it sets for itself, each until a day. */
  readonly parameters: ReadonlyMap<string, LocalLimit>;
  /** Who signed which content. */
  readonly approvals: readonly Approval[];
}

/** Reads what a site decides, each within what the rulebook allows; days that have passed are no fault. */
export function readGovernance(
  { file, value }: Parsed<SiteFile>,
  rulebook: Rulebook,
  report: Report,
): SiteGovernance {
  const { services = {}, rules = {}, parameters = {}, approvals = [] } = value;
  if (!rulebook.about.governance) refuse({ rules, parameters }, file, report);
  const byId = new Map(rulebook.rules.map((rule) => [rule.id, rule]));
  for (const [id, settings] of Object.entries(rules)) {
    const place = { file, path: `rules.${id}` };
    const rule = byId.get(id);
    if (rule) checkSettings(rule, settings, { ...place, rulebook, report });
    else report(file, place.path, 'a rule of the rulebook', id);
  }
  for (const [id, limit] of Object.entries(parameters))
    checkLimit(id, limit, { file, path: `parameters.${id}`, rulebook, report });
  for (const [index, one] of approvals.entries())
    if (
      approvals.slice(0, index).some((other) => other.by === one.by && other.contentHash === one.contentHash)
    )
      report(
        file,
        `approvals[${index}]`,
        'each approval once',
        `${one.contentHash} by the same person again`,
      );
  return {
    services: new Map(
      Object.entries(services).flatMap(([id, state]) => (state === undefined ? [] : [[id, state] as const])),
    ),
    rules: new Map(Object.entries(rules)),
    parameters: new Map(Object.entries(parameters)),
    approvals,
  };
}

/** A rulebook that does not say what a site may decide lets it decide nothing: no rule would be known to be locked. */
function refuse(members: Readonly<Record<string, object>>, file: string, report: Report): void {
  for (const [name, entries] of Object.entries(members))
    for (const id of Object.keys(entries))
      report(file, `${name}.${id}`, 'nothing, as this rulebook does not say what a site may set', id);
}

interface Place {
  readonly file: string;
  readonly path: string;
  readonly rulebook: Rulebook;
  readonly report: Report;
}

function checkSettings(rule: Rule, settings: RuleSettings, { file, path, rulebook, report }: Place): void {
  const { state, hooks = [], reviewBy } = settings;
  if (state === 'off' && rulebook.about.governance?.locked.includes(rule.id))
    report(file, `${path}.state`, 'silent or speak, as no site can turn this rule off', 'off');
  for (const [index, hook] of hooks.entries()) {
    if (!rule.entries.includes(hook))
      report(file, `${path}.hooks[${index}]`, `one of ${rule.entries.join(', ')}`, hook);
    if (hooks.indexOf(hook) !== index) report(file, `${path}.hooks[${index}]`, 'each hook once', hook);
  }
  if (reviewBy !== undefined && reviewBy > rule.reviewBy)
    report(file, `${path}.reviewBy`, `a day up to ${rule.reviewBy}, the rule's own`, reviewBy);
  checkDays(settings, { file, path, rulebook, report });
}

function checkLimit(id: string, limit: LocalLimit, { file, path, rulebook, report }: Place): void {
  checkDays(limit, { file, path, rulebook, report });
  const parameter = rulebook.parameters.get(id);
  if (!parameter?.allowed) {
    const settable = [...rulebook.parameters.values()].flatMap((one) => (one.allowed ? [one.id] : []));
    report(file, path, `a parameter a site may set: ${settable.join(', ')}`, id);
    return;
  }
  const { unit, allowed } = parameter;
  if (limit.unit !== unit) report(file, `${path}.unit`, unit, limit.unit);
  if (limit.value < allowed.low || limit.value > allowed.high)
    report(
      file,
      `${path}.value`,
      `a number from ${allowed.low} to ${allowed.high} ${unit}`,
      String(limit.value),
    );
}

function checkDays(
  { date, until }: Pick<RuleSettings, 'date' | 'until'>,
  { file, path, report }: Place,
): void {
  if (until < date) report(file, `${path}.until`, `a day from ${date} on, when it was decided`, until);
}
