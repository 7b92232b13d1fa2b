import { readFhirDate } from '../base/dates.js';
import { SNOMED_CT, codingsOf, codingsOfAll } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import type { JsonObject } from '../fhir/json.js';
import type { DataFinding, Side } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import type { SideReading } from './laterality.js';
import { isInFuture } from './observation-reader.js';
import type { Note } from './readings.js';

/** The prefetch set in which a diagnosis or an earlier operation stands. */
export type DiagnosisSource = 'conditions' | 'procedures';

/** A coding with the value sets it belongs to, looked up once. */
export interface KnownCoding {
  readonly coding: Coding;
  readonly sets: ReadonlySet<string>;
}

/** A Condition, or a Procedure as history, reduced to what the facts ask of it. */
export interface Diagnosis {
  readonly from: string;
  readonly source: DiagnosisSource;
  readonly codings: readonly KnownCoding[];
  readonly when: 'current' | 'past';
  readonly tentative?: string;
  /** Empty when no side is stated. */
  readonly sides: readonly Side[];
  /** True when a body site says that it is at a hip; false when none says so, which need not mean elsewhere. */
  readonly atHip: boolean;
  /** Why it can inform but not be relied on. */
  readonly unusable?: string;
  readonly date?: string;
}

/** What reading one resource came to. `nothing`: coded, and none of our business. */
export type DiagnosisReading =
  | { readonly kind: 'nothing' }
  | { readonly kind: 'rejected' | 'unreadable'; readonly note: Note }
  | {
      readonly kind: 'diagnosis';
      readonly diagnosis: Diagnosis;
      readonly findings: readonly DataFinding[];
    };

export interface DiagnosisContext {
  readonly knowledge: FactKnowledge;
  readonly now: number;
}

export function knownCodings(concept: unknown, knowledge: FactKnowledge): readonly KnownCoding[] {
  return codingsOf(concept, knowledge.aliases).map((coding) => ({
    coding,
    sets: knowledge.valueSets.setsOf(coding),
  }));
}

/** True when at least one coding could have been matched. */
export function isReadable(codings: readonly KnownCoding[]): boolean {
  return codings.some(({ coding }) => coding.system !== undefined && coding.code !== undefined);
}

/** Most of a record has nothing to do with a hip: what is coded and in no value set needs no second look. */
export function isIrrelevant(codings: readonly KnownCoding[]): boolean {
  return isReadable(codings) && codings.every(({ sets }) => sets.size === 0);
}

export function unreadable(from: string, codings: readonly KnownCoding[]): DiagnosisReading {
  const why = codings.length === 0 ? 'no code' : 'code without a code system';
  return { kind: 'unreadable', note: { from, why } };
}

/**
 * Whether a body site is a hip. Other codes are not taken for another place: SNOMED CT has many codes for parts of a
 * hip, and only a few of them are known here.
 */
export function isAtHip(resource: JsonObject, { laterality, aliases }: FactKnowledge): boolean {
  const { bodySite } = resource;
  return codingsOfAll(Array.isArray(bodySite) ? bodySite : [bodySite], aliases).some(
    ({ system, code }) =>
      system === SNOMED_CT &&
      code !== undefined &&
      (laterality.hipSites.has(code) || laterality.sidedSites.has(code)),
  );
}

/** The sides read, or what is wrong with them. */
export function sidesIn(side: SideReading): Pick<Diagnosis, 'sides' | 'unusable'> {
  if (side.kind === 'conflict') return { sides: [], unusable: 'names more than one side' };
  return { sides: side.kind === 'sides' ? side.sides : [] };
}

export function contradiction(from: string, what: string): DataFinding {
  const text = `one ${what} names more than one side`;
  return { kind: 'side-contradiction', hip: 'any', construct: 'any', text, from: [from] };
}

/** What keeps a date from being one; a missing date is none of these. */
export function dateProblem(date: string | undefined, now: number): string | undefined {
  if (date === undefined) return undefined;
  const span = readFhirDate(date);
  if (!span) return 'date not readable';
  return isInFuture(span, now) ? 'dated in the future' : undefined;
}
