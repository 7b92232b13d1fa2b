import type { z } from 'zod';
import type { FactKnowledge } from '../facts/knowledge.js';
import type { FactDefinition } from '../facts/definitions.js';
import type { Pack } from './pack.js';
import type { computeSchema, findingSchema, OPERATORS, ruleSchema } from './rule-schema.js';
import type { rulebookSchema } from './rulebook-schema.js';
import type { citationSchema, computationSchema, parameterSchema } from './schema.js';

export type Operator = (typeof OPERATORS)[number];
export type Parameter = z.infer<typeof parameterSchema>;
export type Citation = z.infer<typeof citationSchema>;
export type ComputationFile = z.infer<typeof computationSchema>;
export type Compute = z.infer<typeof computeSchema>;
export type FindingFile = z.infer<typeof findingSchema>;
export type RuleFile = z.infer<typeof ruleSchema>;
export type RulebookFile = z.infer<typeof rulebookSchema>;
export type Entry = RuleFile['entries'][number];
export type Effect = NonNullable<RuleFile['effects']>[number];

/** What a leaf compares with: a number, codes or a flag, and the parameter it came from. */
export interface Limit {
  readonly value: number | boolean | string | readonly string[];
  readonly parameter?: string;
  readonly unit?: string;
}

/** A computation in which other facts stand in for some inputs: input id → fact id. */
export interface Variant {
  readonly computation: string;
  readonly with: Readonly<Record<string, string>>;
}

/** A condition with its parameters and named conditions put in; the names stay for the explanation. */
export type Condition =
  | { readonly kind: 'all' | 'any'; readonly name?: string; readonly children: readonly Condition[] }
  | { readonly kind: 'not'; readonly name?: string; readonly child: Condition }
  | {
      readonly kind: 'leaf';
      readonly name?: string;
      /** A fact, a computation, or the id of a computation's variant. */
      readonly fact: string;
      readonly variant?: Variant;
      readonly operator: Operator;
      readonly limit: Limit;
    };

export type Finding = Omit<FindingFile, 'where'> & { readonly where?: Condition };

export type Rule = Omit<RuleFile, 'appliesWhen' | 'when' | 'findings'> & {
  readonly appliesWhen: Condition;
  readonly when: Condition;
  readonly findings: readonly Finding[];
  /** The named conditions that its causes are, and on which single words of it depend. */
  readonly named: ReadonlyMap<string, Condition>;
};

export interface Concept {
  readonly display: string;
  readonly definition?: string;
}

/** All knowledge of one version, checked and resolved; immutable. */
export interface Rulebook {
  readonly about: RulebookFile;
  readonly hash: string;
  /** The files it was made from, as they were written: what is published of it. */
  readonly pack: Pack;
  readonly rules: readonly Rule[];
  readonly facts: readonly FactDefinition[];
  readonly factById: ReadonlyMap<string, FactDefinition>;
  readonly parameters: ReadonlyMap<string, Parameter>;
  /** Where a site set limits for itself: what they are in the rulebook as shipped. */
  readonly shippedLimits?: ReadonlyMap<string, number>;
  readonly computations: ReadonlyMap<string, ComputationFile>;
  readonly citations: ReadonlyMap<string, Citation>;
  readonly knowledge: FactKnowledge;
  /** LOINC codes read from ordinary observations, sorted. */
  readonly laboratoryCodes: readonly string[];
  /** Our own code systems by URL: what each code is called, and what it means. */
  readonly codeSystems: ReadonlyMap<string, ReadonlyMap<string, Concept>>;
  /** Titles of codes and facts for a reader. */
  readonly titles: ReadonlyMap<string, string>;
  /** Titles of named conditions. */
  readonly conditionTitles: ReadonlyMap<string, string>;
}
