import { codingKey, readCoding } from '../fhir/codings.js';
import type { Coding, SystemAliases } from '../fhir/codings.js';
import { asObject, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { Side, Stage } from './definitions.js';
import type { FactKnowledge } from './knowledge.js';
import type { StatedSide } from './laterality.js';

/** One line of a site's map: a local code, and the code it stands for. */
export interface MapEntry {
  readonly source: Required<Coding>;
  readonly target: Required<Coding>;
  /** The map's file, as the site file names it. */
  readonly map: string;
}

/** A local code of an operation or a diagnosis; it may itself name a side. */
export interface SidedEntry extends MapEntry {
  readonly side?: StatedSide;
}

/** A local code of a visit; it counts only when the appointment also gives every one of these reasons. */
export interface VisitEntry extends SidedEntry {
  readonly reasons: readonly Required<Coding>[];
}

/** What a local measure code says beside the measure itself. */
export interface FixedQualifiers {
  readonly stage?: Stage;
  readonly side?: Side;
  /** The UCUM unit of values that come without one. */
  readonly unit?: string;
  /** What the local value is multiplied with to have our direction. */
  readonly sign: 1 | -1;
  readonly components: Readonly<Record<string, string | boolean>>;
}

export interface MeasureEntry extends MapEntry {
  readonly fixed: FixedQualifiers;
}

/** Code system → code → what is known of it: two steps, so that a foreign coding costs one look and no memory. */
export type CodeIndex<Known> = ReadonlyMap<string, ReadonlyMap<string, Known>>;

/** How a reader is told what a map or a default put in; wording of the rulebook. */
export interface SiteRemarks {
  readonly qualifiers: Readonly<Record<string, string>>;
  readonly overruled: string;
  readonly default: string;
}

/** A site's local codes by the place where they may stand. Plain data; made when the site file is read. */
export interface SiteMaps {
  readonly operations: CodeIndex<SidedEntry>;
  readonly visits: CodeIndex<readonly VisitEntry[]>;
  readonly conditions: CodeIndex<SidedEntry>;
  readonly measures: CodeIndex<MeasureEntry>;
  readonly components: CodeIndex<MapEntry>;
  readonly values: CodeIndex<MapEntry>;
  readonly sides: CodeIndex<MapEntry>;
  readonly knowledge: Pick<FactKnowledge, 'aliases' | 'laterality' | 'systems'>;
  readonly remarks: SiteRemarks;
}

const NOTHING: readonly never[] = [];

/** What an index knows of a coding. */
export function lookUp<Known>(
  coding: JsonObject,
  index: CodeIndex<Known>,
  aliases: SystemAliases,
): Known | undefined {
  const given = coding['system'];
  if (index.size === 0 || typeof given !== 'string') return undefined;
  const trimmed = given.trim();
  const codes = index.get(aliases.get(trimmed) ?? trimmed);
  if (!codes) return undefined;
  const { code } = readCoding(coding, aliases);
  return code === undefined ? undefined : codes.get(code);
}

/** What an index knows of the codings of a concept, each once. */
export function matchesIn<Known>(
  concept: unknown,
  index: CodeIndex<Known>,
  aliases: SystemAliases,
): readonly Known[] {
  if (index.size === 0) return NOTHING;
  let found: readonly Known[] = NOTHING;
  for (const coding of objectsIn(asObject(concept)?.['coding'])) {
    const known = lookUp(coding, index, aliases);
    if (known !== undefined && !found.includes(known)) found = [...found, known];
  }
  return found;
}

/** Whether a concept carries exactly this coding. */
export function hasCoding(concept: unknown, wanted: Required<Coding>, aliases: SystemAliases): boolean {
  const key = codingKey(readCoding({ ...wanted }, aliases));
  return objectsIn(asObject(concept)?.['coding']).some(
    (each) => codingKey(readCoding(each, aliases)) === key,
  );
}

/** The concept with further codings, after its own; the same concept when it has them all. */
export function withCodings(
  concept: JsonObject,
  codings: readonly Required<Coding>[],
  aliases: SystemAliases,
): JsonObject {
  const missing = codings.filter((coding) => !hasCoding(concept, coding, aliases));
  if (missing.length === 0) return concept;
  return { ...concept, coding: [...listOf(concept['coding']), ...missing.map(plainCoding)] };
}

function plainCoding({ system, code }: Required<Coding>): JsonObject {
  return { system, code };
}

/** A member as a list: what stands alone where a list belongs is its only item, what is not there makes none. */
export function listOf(value: unknown): readonly unknown[] {
  if (value === undefined) return NOTHING;
  return Array.isArray(value) ? (value as readonly unknown[]) : [value];
}
