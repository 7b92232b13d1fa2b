import type { z } from 'zod';
import type { Pack } from '../rulebook/pack.js';
import { parsePack } from '../rulebook/parse-pack.js';
import type { ParsedPack } from '../rulebook/parse-pack.js';
import type { ConditionFile, namedConditionSchema } from '../rulebook/rule-schema.js';
import type { RuleFile } from '../rulebook/types.js';

export type NamedConditionFile = z.infer<typeof namedConditionSchema>;

/** The files that conditions stand in, as a reviewer meets them. */
export interface RuleSources {
  readonly parsed: ParsedPack;
  readonly rules: readonly { readonly file: string; readonly value: RuleFile }[];
  readonly named: ReadonlyMap<string, { readonly file: string; readonly value: NamedConditionFile }>;
}

/** Reads the files behind a rulebook that has been checked. */
export function ruleSources(pack: Pack): RuleSources {
  const parsed = parsePack(pack, []);
  return {
    parsed,
    rules: parsed.rules,
    named: new Map(parsed.conditions.map((one) => [one.value.id, one])),
  };
}

/** One place of a rule where a condition stands. */
export interface ConditionRoot {
  readonly path: string;
  readonly condition: ConditionFile;
  /** Set for the condition that chooses a finding's words. */
  readonly finding?: number;
}

/** Every condition of a rule: when it applies, when it fires, and which words it then uses. */
export function rootsOf({ appliesWhen, when, findings }: RuleFile): readonly ConditionRoot[] {
  return [
    { path: 'appliesWhen', condition: appliesWhen },
    { path: 'when', condition: when },
    ...findings.flatMap(({ where }, finding) =>
      where ? [{ path: `findings[${finding}].where`, condition: where, finding }] : [],
    ),
  ];
}

/** The named conditions a condition refers to. */
export function namesIn(condition: ConditionFile): readonly string[] {
  if ('condition' in condition) return [condition.condition];
  if ('all' in condition) return condition.all.flatMap(namesIn);
  if ('any' in condition) return condition.any.flatMap(namesIn);
  if ('not' in condition) return namesIn(condition.not);
  return [];
}
