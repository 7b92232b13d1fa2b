import type { z } from 'zod';
import type { Parsed } from './parse.js';
import type { ConditionFile, namedConditionSchema } from './rule-schema.js';
import type { FindingFile, RuleFile } from './types.js';

type Named = Parsed<z.infer<typeof namedConditionSchema>>;

/**
 * Puts `{texts:…}` with every diagnosis and finding a named condition looks for where a message says
 * `{recorded:condition}`: a list that stands once, so that no message forgets what the condition learned. A condition
 * nobody defines leaves the placeholder as it is, which no check lets pass.
 */
export function withRecordedLists(
  rules: readonly Parsed<RuleFile>[],
  conditions: readonly Named[],
): readonly Parsed<RuleFile>[] {
  const lists = new Map(conditions.map(({ value }) => [value.id, recordedFacts(value.when)]));
  const filled = (message: string): string =>
    message.replace(/\{recorded:([a-z0-9-]+)\}/g, (whole, id: string) => {
      const facts = lists.get(id) ?? [];
      return facts.length === 0 ? whole : `{texts:${facts.join(',')}}`;
    });
  return rules.map(({ file, value }) => ({
    file,
    value: { ...value, findings: value.findings.map((finding) => withMessages(finding, filled)) },
  }));
}

function withMessages(finding: FindingFile, change: (message: string) => string): FindingFile {
  const { summary, found, options, checks } = finding;
  return {
    ...finding,
    summary: summary.map(change),
    found: found.map(change),
    ...(options && { options: options.map(change) }),
    ...(checks && { checks: checks.map(change) }),
  };
}

function recordedFacts(condition: ConditionFile): readonly string[] {
  if ('condition' in condition) return [];
  if ('all' in condition) return condition.all.flatMap(recordedFacts);
  if ('any' in condition) return condition.any.flatMap(recordedFacts);
  if ('not' in condition) return [];
  return condition.operator === 'recorded' ? [condition.fact] : [];
}
