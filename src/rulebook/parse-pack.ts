import type { z } from 'zod';
import type { Pack, RulebookIssue } from './pack.js';
import { fileNamed, parseFile, parseFolder } from './parse.js';
import type { Parsed } from './parse.js';
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
import type { Citation, ComputationFile, Parameter, RuleFile, RulebookFile } from './types.js';

export type FactFile = z.infer<typeof factSchema>;

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
