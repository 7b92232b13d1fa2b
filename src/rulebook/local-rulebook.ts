import type { Condition, Finding, Limit, Parameter, Rule, Rulebook } from './types.js';

/** How one installation's rulebook differs from the one all have. */
export interface LocalChanges {
  /** Limits with other values, by parameter. */
  readonly limits: ReadonlyMap<string, number>;
  /** Rules that are not evaluated. */
  readonly off: ReadonlySet<string>;
}

/**
 * The rulebook with other limits and without some rules; everything else, its name and hash too, is the same. It
 * remembers the limits it had, so that whoever reads of a local one reads both.
 */
export function localRulebook(rulebook: Rulebook, { limits, off }: LocalChanges): Rulebook {
  const parameters = new Map(
    [...rulebook.parameters].map(([id, parameter]): readonly [string, Parameter] => {
      const value = limits.get(id);
      return [id, value === undefined ? parameter : { ...parameter, value }];
    }),
  );
  const shipped = [...limits.keys()].flatMap((id) => {
    const value = rulebook.parameters.get(id)?.value;
    return typeof value === 'number' ? [[id, value] as const] : [];
  });
  const kept = rulebook.rules.filter(({ id }) => !off.has(id));
  return {
    ...rulebook,
    parameters,
    rules: limits.size === 0 ? kept : kept.map((rule) => withLimits(rule, limits)),
    ...(shipped.length > 0 && { shippedLimits: new Map(shipped) }),
  };
}

function withLimits(rule: Rule, limits: ReadonlyMap<string, number>): Rule {
  return {
    ...rule,
    appliesWhen: replaced(rule.appliesWhen, limits),
    when: replaced(rule.when, limits),
    findings: rule.findings.map(({ where, ...finding }): Finding =>
      where === undefined ? finding : { ...finding, where: replaced(where, limits) },
    ),
    named: new Map([...rule.named].map(([name, condition]) => [name, replaced(condition, limits)])),
  };
}

function replaced(condition: Condition, limits: ReadonlyMap<string, number>): Condition {
  switch (condition.kind) {
    case 'leaf':
      return { ...condition, limit: replacedLimit(condition.limit, limits) };
    case 'not':
      return { ...condition, child: replaced(condition.child, limits) };
    default:
      return { ...condition, children: condition.children.map((child) => replaced(child, limits)) };
  }
}

function replacedLimit(limit: Limit, limits: ReadonlyMap<string, number>): Limit {
  const value = limit.parameter === undefined ? undefined : limits.get(limit.parameter);
  return value === undefined ? limit : { ...limit, value };
}
