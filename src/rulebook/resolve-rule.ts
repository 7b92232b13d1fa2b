import { placeholdersOf } from './placeholders.js';
import { resolveCondition } from './resolve-condition.js';
import type { ConditionScope } from './resolve-condition.js';
import type { Condition, Finding, FindingFile, Rule, RuleFile } from './types.js';

/** Puts parameters and named conditions into every condition of a rule; faults are reported in the scope. */
export function resolveRule(value: RuleFile, scope: ConditionScope): Rule {
  return {
    ...value,
    appliesWhen: resolveCondition(value.appliesWhen, 'appliesWhen', scope),
    when: resolveCondition(value.when, 'when', scope),
    findings: value.findings.map(({ where, ...finding }, index): Finding =>
      where === undefined
        ? finding
        : { ...finding, where: resolveCondition(where, `findings[${index}].where`, scope) },
    ),
    named: new Map(
      namedInWords(value).map((name): readonly [string, Condition] => [
        name,
        resolveCondition({ condition: name }, 'causes', scope),
      ]),
    ),
  };
}

/** The named conditions that a rule's causes and its placeholders `{if:…}` and `{unless:…}` ask about. */
export function namedInWords({ causes = [], findings, effects = [] }: RuleFile): readonly string[] {
  const texts = [...findings.flatMap(wordsOf), ...effects.map(({ says }) => says)];
  const asked = texts.flatMap(placeholdersOf).flatMap((name) => namedIn(name) ?? []);
  return [...new Set([...causes.map(({ condition }) => condition), ...asked])];
}

/** The named condition that a placeholder asks about, if it does. */
export function namedIn(placeholder: string): string | undefined {
  if (!placeholder.startsWith('if:') && !placeholder.startsWith('unless:')) return undefined;
  return placeholder.split(':')[1];
}

/** Everything a finding says. */
export function wordsOf({
  summary,
  found,
  options = [],
  checks = [],
  sure,
}: Pick<FindingFile, 'summary' | 'found' | 'options' | 'checks' | 'sure'>): readonly string[] {
  return [...summary, ...found, ...options, ...checks, sure];
}
