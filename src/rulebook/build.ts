import { contentHash } from '../base/hash.js';
import { compareText } from '../base/order.js';
import { reportUnused } from './check-parameters.js';
import { checkReferences } from './check-references.js';
import { codeListsOf, laboratoryCodesOf } from './code-lists.js';
import { constantGroups } from './constant-groups.js';
import type { Pack, RulebookIssue } from './pack.js';
import { parsePack } from './parse-pack.js';
import type { ParsedPack } from './parse-pack.js';
import type { Parsed } from './parse.js';
import { factDefinition, factKinds, knowledgeOf } from './resolve-facts.js';
import { resolveRule } from './resolve-rule.js';
import type { Concept, Rule, Rulebook } from './types.js';

export type BuildResult =
  | { readonly ok: true; readonly rulebook: Rulebook }
  | { readonly ok: false; readonly issues: readonly RulebookIssue[] };

/**
 * Turns a pack into a rulebook: checks every file against its schema, resolves parameters, named conditions, value
 * sets and citations, and refuses the whole on any fault. `computations` names what the engine can compute.
 */
export function buildRulebook(pack: Pack, computations: readonly string[]): BuildResult {
  const issues: RulebookIssue[] = [];
  const parsed = parsePack(pack, issues);
  checkReferences(parsed, computations, issues);
  // A file that could not be read uses nothing: what is unused is told only when everything else is in order.
  if (issues.length === 0)
    reportUnused(parsed, (file, path, expected, found) => issues.push({ file, path, expected, found }));
  const { about, icd, pcs, snomed, aliases } = parsed;
  if (!about || !icd || !pcs || !snomed || !aliases || issues.length > 0)
    return { ok: false, issues: sortIssues(issues) };
  const parameters = mapById(parsed.parameters);
  const computationFiles = mapById(parsed.computations);
  const facts = parsed.facts
    .map(({ value }) => factDefinition(value, parameters))
    .sort((a, b) => compareText(a.id, b.id));
  const kinds = factKinds(facts, computationFiles);
  const named = mapById(parsed.conditions);
  const rules = parsed.rules
    .map(({ file, value }): Rule => {
      const scope = { file, parameters, named, kinds, computations: computationFiles, issues };
      return resolveRule(value, scope);
    })
    .sort((a, b) => compareText(a.id, b.id));
  for (const { file, value } of parsed.rules)
    issues.push(
      ...constantIssues(
        file,
        rules.find(({ id }) => id === value.id),
      ),
    );
  if (issues.length > 0) return { ok: false, issues: sortIssues(issues) };
  const lists = codeListsOf(parsed.valueSets.map(({ value }) => value));
  const rulebook: Rulebook = {
    about: about.value,
    hash: packHash(pack),
    pack,
    rules,
    facts,
    factById: new Map(facts.map((fact) => [fact.id, fact])),
    parameters,
    computations: computationFiles,
    citations: mapById(parsed.citations),
    knowledge: knowledgeOf(parsed, about.value, facts, parameters, lists, {
      icd: icd.value,
      pcs: pcs.value,
      snomed: snomed.value,
      aliases: aliases.value,
    }),
    laboratoryCodes: laboratoryCodesOf(facts, lists),
    codeSystems: new Map(parsed.codeSystems.map(({ value }) => [value.url, conceptsOf(value.concept)])),
    titles: new Map(facts.map(({ id, title }) => [id, title])),
    conditionTitles: new Map([...named.values()].map(({ id, title }) => [id, title])),
  };
  return { ok: true, rulebook };
}

function conceptsOf(
  concepts: ParsedPack['codeSystems'][number]['value']['concept'],
): ReadonlyMap<string, Concept> {
  return new Map(
    concepts.map(({ code, display = code, definition }) => [
      code,
      { display, ...(typeof definition === 'string' && { definition }) },
    ]),
  );
}

function constantIssues(file: string, rule: Rule | undefined): readonly RulebookIssue[] {
  if (!rule) return [];
  return (['appliesWhen', 'when'] as const).flatMap((path) =>
    constantGroups(rule[path]).map(({ fact, always }) => ({
      file,
      path,
      expected: `a group that depends on ${fact}`,
      found: `one that is ${always} for every value`,
    })),
  );
}

/** Contents belong to a pack and never change: each is hashed once. */
const contentHashes = new WeakMap<object, string>();

function fileHash(content: unknown): string {
  if (typeof content !== 'object' || content === null) return contentHash(content);
  const known = contentHashes.get(content);
  if (known !== undefined) return known;
  const hash = contentHash(content);
  contentHashes.set(content, hash);
  return hash;
}

/** The hash under which a rulebook is known: over every file's path and content, whatever order they came in. */
export function packHash(pack: Pack): string {
  const files = [...pack.files].sort((a, b) => compareText(a.path, b.path));
  return contentHash(files.map(({ path, content }) => [path, fileHash(content)]));
}

function mapById<Value extends { readonly id: string }>(
  parsed: readonly Parsed<Value>[],
): ReadonlyMap<string, Value> {
  return new Map(
    [...parsed].sort((a, b) => compareText(a.value.id, b.value.id)).map(({ value }) => [value.id, value]),
  );
}

function sortIssues(issues: readonly RulebookIssue[]): readonly RulebookIssue[] {
  return [...issues].sort(
    (a, b) =>
      compareText(a.file, b.file) || compareText(a.path, b.path) || compareText(a.expected, b.expected),
  );
}
