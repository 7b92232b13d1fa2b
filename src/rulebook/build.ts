import { contentHash } from '../base/hash.js';
import { compareText } from '../base/order.js';
import type { z } from 'zod';
import type { FactDefinition } from '../facts/definitions.js';
import { lateralityTables } from '../facts/laterality.js';
import type { FactKnowledge, MeasuringError } from '../facts/knowledge.js';
import { ValueSetIndex } from '../facts/value-set-index.js';
import { checkReferences } from './check-references.js';
import { codeListsOf, laboratoryCodesOf } from './code-lists.js';
import { constantGroups } from './constant-groups.js';
import type { Pack, RulebookIssue } from './pack.js';
import { fileNamed, parseFile, parseFolder } from './parse.js';
import type { Parsed } from './parse.js';
import type { FactKind } from './resolve-condition.js';
import { resolveCondition } from './resolve-condition.js';
import {
  aliasesSchema,
  citationSchema,
  computationSchema,
  factSchema,
  icdLateralitySchema,
  namedConditionSchema,
  parameterGroupSchema,
  ruleSchema,
  rulebookSchema,
  snomedLateralitySchema,
  valueSetSchema,
} from './schema.js';
import type {
  Citation,
  ComputationFile,
  Parameter,
  Rule,
  RuleFile,
  Rulebook,
  RulebookFile,
} from './types.js';

export type BuildResult =
  | { readonly ok: true; readonly rulebook: Rulebook }
  | { readonly ok: false; readonly issues: readonly RulebookIssue[] };

type FactFile = z.infer<typeof factSchema>;

/** Everything parsed, before names are resolved. */
export interface ParsedPack {
  readonly about: Parsed<RulebookFile> | undefined;
  readonly rules: readonly Parsed<RuleFile>[];
  readonly facts: readonly Parsed<FactFile>[];
  readonly parameters: readonly Parsed<Parameter>[];
  readonly computations: readonly Parsed<ComputationFile>[];
  readonly citations: readonly Parsed<Citation>[];
  readonly conditions: readonly Parsed<z.infer<typeof namedConditionSchema>>[];
  readonly valueSets: readonly Parsed<z.infer<typeof valueSetSchema>>[];
  readonly icd: Parsed<z.infer<typeof icdLateralitySchema>> | undefined;
  readonly snomed: Parsed<z.infer<typeof snomedLateralitySchema>> | undefined;
  readonly aliases: Parsed<z.infer<typeof aliasesSchema>> | undefined;
}

/**
 * Turns a pack into a rulebook: checks every file against its schema, resolves parameters, named conditions, value
 * sets and citations, and refuses the whole on any fault. `computations` names what the engine can compute.
 */
export function buildRulebook(pack: Pack, computations: readonly string[]): BuildResult {
  const issues: RulebookIssue[] = [];
  const parsed = parsePack(pack, issues);
  checkReferences(parsed, computations, issues);
  const { about, icd, snomed, aliases } = parsed;
  if (!about || !icd || !snomed || !aliases || issues.length > 0)
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
      const scope = { file, parameters, named, kinds, issues };
      return {
        ...value,
        appliesWhen: resolveCondition(value.appliesWhen, 'appliesWhen', scope),
        when: resolveCondition(value.when, 'when', scope),
      };
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
    rules,
    facts,
    factById: new Map(facts.map((fact) => [fact.id, fact])),
    parameters,
    computations: computationFiles,
    citations: mapById(parsed.citations),
    knowledge: knowledgeOf(parsed, about.value, facts, parameters, lists, {
      icd: icd.value,
      snomed: snomed.value,
      aliases: aliases.value,
    }),
    laboratoryCodes: laboratoryCodesOf(facts, lists),
    titles: new Map(facts.map(({ id, title }) => [id, title])),
  };
  return { ok: true, rulebook };
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

/** The hash under which a rulebook is known: over every file's path and content, whatever order they came in. */
export function packHash(pack: Pack): string {
  return contentHash([...pack.files].sort((a, b) => compareText(a.path, b.path)));
}

function parsePack(pack: Pack, issues: RulebookIssue[]): ParsedPack {
  const folder = <Schema extends z.ZodType>(
    name: string,
    schema: Schema,
  ): readonly Parsed<z.infer<Schema>>[] => {
    const result = parseFolder(pack, name, schema);
    issues.push(...result.issues);
    return result.parsed;
  };
  const file = <Schema extends z.ZodType>(
    path: string,
    schema: Schema,
  ): Parsed<z.infer<Schema>> | undefined => {
    const result = parseFile(fileNamed(pack, path), schema);
    issues.push(...result.issues);
    return result.parsed;
  };
  const computationFiles = splitComputations(pack, issues);
  return {
    about: file('rulebook.json', rulebookSchema),
    rules: folder('advisories', ruleSchema),
    facts: folder('facts', factSchema),
    ...computationFiles,
    citations: folder('citations', citationSchema),
    conditions: folder('conditions', namedConditionSchema),
    valueSets: folder('value-sets', valueSetSchema),
    icd: file('code-systems/laterality-icd-10-cm.json', icdLateralitySchema),
    snomed: file('code-systems/laterality-snomed-ct.json', snomedLateralitySchema),
    aliases: file('code-systems/aliases.json', aliasesSchema),
  };
}

/** `computations/` holds parameter groups and computations side by side; `kind` tells them apart. */
function splitComputations(
  pack: Pack,
  issues: RulebookIssue[],
): Pick<ParsedPack, 'parameters' | 'computations'> {
  const parameters: Parsed<Parameter>[] = [];
  const computations: Parsed<ComputationFile>[] = [];
  for (const file of pack.files.filter(({ path }) => path.startsWith('computations/'))) {
    const { content } = file;
    const isGroup =
      typeof content === 'object' && content !== null && 'kind' in content && content.kind === 'parameters';
    if (isGroup) {
      const result = parseFile(file, parameterGroupSchema);
      issues.push(...result.issues);
      parameters.push(
        ...(result.parsed?.value.parameters ?? []).map((value) => ({ file: file.path, value })),
      );
    } else {
      const result = parseFile(file, computationSchema);
      issues.push(...result.issues);
      if (result.parsed) computations.push(result.parsed);
    }
  }
  return { parameters, computations };
}

function mapById<Value extends { readonly id: string }>(
  parsed: readonly Parsed<Value>[],
): ReadonlyMap<string, Value> {
  return new Map(
    [...parsed].sort((a, b) => compareText(a.value.id, b.value.id)).map(({ value }) => [value.id, value]),
  );
}

function factDefinition(file: FactFile, parameters: ReadonlyMap<string, Parameter>): FactDefinition {
  switch (file.kind) {
    case 'measure': {
      const { plausible, conflict } = file;
      return {
        ...without(file, ['version', 'plausible', 'conflict', 'measuringError']),
        ...(plausible && { plausible: rangeOf(plausible.parameter, parameters) }),
        ...(conflict && {
          conflict: { beyond: numberOf(conflict.parameter, parameters), parameter: conflict.parameter },
        }),
      };
    }
    case 'observation': {
      const { plausible } = file;
      const rest = without(file, ['version', 'plausible']);
      return { ...rest, ...(plausible && { plausible: rangeOf(plausible.parameter, parameters) }) };
    }
    default:
      return without(file, ['version']);
  }
}

type Known<Value, Left extends PropertyKey> = {
  [Key in keyof Value as Key extends Left ? never : Key]: Exclude<Value[Key], undefined>;
};

/** Leaves out the members named, and those that zod read as undefined, as the types of `facts` want them. */
function without<Value extends object, Left extends keyof Value>(
  value: Value,
  left: readonly Left[],
): Known<Value, Left> {
  const kept = Object.entries(value).filter(
    ([name, member]) => member !== undefined && !left.includes(name as Left),
  );
  return Object.fromEntries(kept) as Known<Value, Left>;
}

function rangeOf(
  id: string,
  parameters: ReadonlyMap<string, Parameter>,
): { low: number; high: number; parameter: string } {
  const value = parameters.get(id)?.value;
  if (!Array.isArray(value) || typeof value[0] !== 'number' || typeof value[1] !== 'number') {
    throw new TypeError(`parameter ${id} is not a range`);
  }
  return { low: value[0], high: value[1], parameter: id };
}

/** The number a parameter stands for; throws when it is none, which the reference check has ruled out. */
export function numberOf(id: string, parameters: ReadonlyMap<string, Parameter>): number {
  const value = parameters.get(id)?.value;
  if (typeof value !== 'number') throw new TypeError(`parameter ${id} is not a number`);
  return value;
}

/** What each fact or computation yields, for the operators that may ask about it. */
function factKinds(
  facts: readonly FactDefinition[],
  computations: ReadonlyMap<string, ComputationFile>,
): ReadonlyMap<string, FactKind> {
  const kinds = new Map<string, FactKind>();
  for (const { id, unit } of computations.values()) kinds.set(id, { yields: 'number', unit });
  for (const fact of facts) kinds.set(fact.id, factKind(fact));
  return kinds;
}

function factKind(fact: FactDefinition): FactKind {
  switch (fact.kind) {
    case 'measure':
    case 'derived': {
      const values = fact.values ? { values: fact.values } : {};
      if (fact.valueType === 'code') return { yields: 'code', ...values };
      if (fact.valueType === 'boolean') return { yields: 'flag' };
      return { yields: 'number', ...(fact.unit !== undefined && { unit: fact.unit }) };
    }
    case 'observation':
      return { yields: 'number', unit: fact.unit };
    case 'operation':
      return { yields: 'code', values: fact.values };
    case 'condition':
    case 'finding':
    case 'presence':
      return { yields: 'record' };
  }
}

function knowledgeOf(
  parsed: ParsedPack,
  about: RulebookFile,
  facts: readonly FactDefinition[],
  parameters: ReadonlyMap<string, Parameter>,
  lists: ReturnType<typeof codeListsOf>,
  tables: {
    readonly icd: z.infer<typeof icdLateralitySchema>;
    readonly snomed: z.infer<typeof snomedLateralitySchema>;
    readonly aliases: z.infer<typeof aliasesSchema>;
  },
): FactKnowledge {
  const aliases = Object.entries(tables.aliases).flatMap(([canonical, others]) =>
    others.map((other) => [other, canonical] as const),
  );
  return {
    definitions: facts,
    valueSets: new ValueSetIndex(lists),
    laterality: lateralityTables(tables.icd.families, tables.snomed),
    aliases: new Map(aliases),
    systems: about.systems,
    operations: new Map(Object.entries(about.operations)),
    appointmentOperations: new Map(Object.entries(about.appointmentOperations)),
    methodOrder: about.methodOrder,
    qualifiers: new Map(Object.entries(about.qualifiers)),
    measuringErrors: new Map(parsed.facts.flatMap(({ value }) => measuringError(value, parameters))),
  };
}

function measuringError(
  fact: FactFile,
  parameters: ReadonlyMap<string, Parameter>,
): readonly (readonly [string, MeasuringError])[] {
  if (fact.kind !== 'measure' || !fact.measuringError) return [];
  const { byMethod, otherwise, unknown } = fact.measuringError;
  const errors = Object.entries(byMethod).map(
    ([method, { parameter }]) => [method, numberOf(parameter, parameters)] as const,
  );
  return [
    [
      fact.id,
      { byMethod: Object.fromEntries(errors), otherwise: numberOf(otherwise.parameter, parameters), unknown },
    ],
  ];
}

function sortIssues(issues: readonly RulebookIssue[]): readonly RulebookIssue[] {
  return [...issues].sort(
    (a, b) =>
      compareText(a.file, b.file) || compareText(a.path, b.path) || compareText(a.expected, b.expected),
  );
}
