import type { ParsedPack } from './parse-pack.js';
import { placeholdersOf } from './placeholders.js';
import type { Names, Report } from './check-rules.js';

/** Each parameter read in a source cites it. */
export function checkParameters(parsed: ParsedPack, names: Names, report: Report): void {
  for (const { file, value } of parsed.parameters) {
    const path = `parameters.${value.id}`;
    for (const key of value.citations)
      if (!names.citations.has(key)) report(file, path, 'a file in citations/', key);
    const sourced =
      value.readAt === 'full text' || value.readAt === 'abstract' || value.readAt === 'secondary source';
    if (sourced && value.citations.length === 0)
      report(file, `${path}.citations`, 'a citation for a value read in a source', 'none');
  }
}

/** Parameters that nothing uses: a number nobody uses is a number nobody reviews. */
export function reportUnused(parsed: ParsedPack, report: Report): void {
  const used = usedParameters(parsed);
  for (const { file, value } of parsed.parameters) {
    if (!used.has(value.id))
      report(file, `parameters.${value.id}`, 'a use in a fact, computation, condition or message', 'none');
  }
}

/** Every parameter that is named by reference, anywhere, or that a message shows. */
function usedParameters(parsed: ParsedPack): ReadonlySet<string> {
  const everything = [parsed.rules, parsed.conditions, parsed.facts, parsed.computations]
    .flat()
    .map(({ value }) => value);
  const messages = parsed.rules.flatMap(({ value }) => [
    ...value.findings.flatMap((finding) => [
      ...finding.summary,
      ...finding.found,
      ...(finding.options ?? []),
      finding.sure,
    ]),
    ...(value.effects ?? []).map(({ says }) => says),
  ]);
  const shown = messages.flatMap(placeholdersOf).map((name) => name.split('.')[0] ?? '');
  return new Set([...everything.flatMap(referencesIn), ...shown]);
}

function referencesIn(value: unknown): readonly string[] {
  if (typeof value !== 'object' || value === null) return [];
  const inner = Object.values(value).flatMap(referencesIn);
  return 'parameter' in value && typeof value.parameter === 'string' ? [value.parameter, ...inner] : inner;
}
