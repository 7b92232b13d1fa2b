import type { z } from 'zod';
import type { Pack, RulebookIssue } from './pack.js';
import { fileNamed, parseFile, parseFolder } from './parse.js';
import type { Parsed } from './parse.js';
import { factSchema } from './fact-schema.js';
import { withRecordedLists } from './recorded-lists.js';
import { namedConditionSchema, ruleSchema } from './rule-schema.js';
import { rulebookSchema } from './rulebook-schema.js';
import { citationSchema, computationSchema, parameterGroupSchema } from './schema.js';
import {
  aliasesSchema,
  codeSystemSchema,
  icdLateralitySchema,
  snomedLateralitySchema,
  valueSetSchema,
} from './terminology-schema.js';
import type { Citation, ComputationFile, Parameter, RuleFile, RulebookFile } from './types.js';

export type FactFile = z.infer<typeof factSchema>;

/** Everything parsed, before names are resolved. */
export interface ParsedPack {
  readonly about: Parsed<RulebookFile> | undefined;
  readonly rules: readonly Parsed<RuleFile>[];
  /** Ids, by file name, of rules whose files were refused or say another id. */
  readonly refusedRules: readonly string[];
  readonly facts: readonly Parsed<FactFile>[];
  readonly parameters: readonly Parsed<Parameter>[];
  readonly computations: readonly Parsed<ComputationFile>[];
  readonly citations: readonly Parsed<Citation>[];
  readonly conditions: readonly Parsed<z.infer<typeof namedConditionSchema>>[];
  readonly valueSets: readonly Parsed<z.infer<typeof valueSetSchema>>[];
  readonly codeSystems: readonly Parsed<z.infer<typeof codeSystemSchema>>[];
  /** Parameter groups, for their ids. */
  readonly groups: readonly Parsed<{ readonly id: string }>[];
  /** Files that stand where nothing reads them. */
  readonly unread: readonly string[];
  readonly icd: Parsed<z.infer<typeof icdLateralitySchema>> | undefined;
  readonly pcs: Parsed<z.infer<typeof icdLateralitySchema>> | undefined;
  readonly snomed: Parsed<z.infer<typeof snomedLateralitySchema>> | undefined;
  readonly aliases: Parsed<z.infer<typeof aliasesSchema>> | undefined;
}

const FOLDERS: ReadonlySet<string> = new Set([
  'advisories',
  'citations',
  'computations',
  'conditions',
  'facts',
  'value-sets',
]);

const CODE_SYSTEMS: readonly string[] = [
  'code-systems/hip-diagnosis.json',
  'code-systems/hip-measure.json',
  'code-systems/hip-measure-value.json',
  'code-systems/measure-group.json',
  'code-systems/measure-stage.json',
  'code-systems/override-reason.json',
];

const FILES: ReadonlySet<string> = new Set([
  'rulebook.json',
  'code-systems/aliases.json',
  'code-systems/laterality-icd-10-cm.json',
  'code-systems/laterality-icd-10-pcs.json',
  'code-systems/laterality-snomed-ct.json',
  ...CODE_SYSTEMS,
]);

function isRead(path: string): boolean {
  return FILES.has(path) || (path.includes('/') && FOLDERS.has(path.split('/')[0] ?? ''));
}

/** Checks every file of a pack against the schema of its place. */
export function parsePack(pack: Pack, issues: RulebookIssue[]): ParsedPack {
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
  const conditions = folder('conditions', namedConditionSchema);
  const rules = withRecordedLists(folder('advisories', ruleSchema), conditions);
  return {
    about: file('rulebook.json', rulebookSchema),
    rules,
    refusedRules: refusedIn(pack, rules),
    facts: folder('facts', factSchema),
    ...computationFiles,
    citations: folder('citations', citationSchema),
    conditions,
    valueSets: folder('value-sets', valueSetSchema),
    codeSystems: CODE_SYSTEMS.flatMap((path) => file(path, codeSystemSchema) ?? []),
    unread: pack.files.map(({ path }) => path).filter((path) => !isRead(path)),
    icd: file('code-systems/laterality-icd-10-cm.json', icdLateralitySchema),
    pcs: file('code-systems/laterality-icd-10-pcs.json', icdLateralitySchema),
    snomed: file('code-systems/laterality-snomed-ct.json', snomedLateralitySchema),
    aliases: file('code-systems/aliases.json', aliasesSchema),
  };
}

function refusedIn(pack: Pack, rules: readonly Parsed<RuleFile>[]): readonly string[] {
  const read = new Set(rules.map(({ value }) => value.id));
  return pack.files
    .map(({ path }) => path)
    .filter((path) => path.startsWith('advisories/'))
    .map((path) => path.slice(path.lastIndexOf('/') + 1).replace(/\.json$/, ''))
    .filter((id) => !read.has(id));
}

/** `computations/` holds parameter groups and computations side by side; `kind` tells them apart. */
function splitComputations(
  pack: Pack,
  issues: RulebookIssue[],
): Pick<ParsedPack, 'parameters' | 'computations' | 'groups'> {
  const groups: Parsed<{ readonly id: string }>[] = [];
  const parameters: Parsed<Parameter>[] = [];
  const computations: Parsed<ComputationFile>[] = [];
  for (const file of pack.files.filter(({ path }) => path.startsWith('computations/'))) {
    const { content } = file;
    const isGroup =
      typeof content === 'object' && content !== null && 'kind' in content && content.kind === 'parameters';
    if (isGroup) {
      const result = parseFile(file, parameterGroupSchema);
      issues.push(...result.issues);
      if (result.parsed) groups.push(result.parsed);
      parameters.push(
        ...(result.parsed?.value.parameters ?? []).map((value) => ({ file: file.path, value })),
      );
    } else {
      const result = parseFile(file, computationSchema);
      issues.push(...result.issues);
      if (result.parsed) computations.push(result.parsed);
    }
  }
  return { parameters, computations, groups };
}
