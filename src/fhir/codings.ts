import { asObject, asText, objectsIn } from './json.js';
import type { JsonObject } from './json.js';

/** A coding as read: both parts may be missing, and what is missing is never guessed. */
export interface Coding {
  readonly system?: string;
  readonly code?: string;
}

/** The canonical URI of each code system, by every other URI under which records send it. */
export type SystemAliases = ReadonlyMap<string, string>;

export const ICD_10_CM = 'http://hl7.org/fhir/sid/icd-10-cm';
export const ICD_10_PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';
export const SNOMED_CT = 'http://snomed.info/sct';
export const UCUM = 'http://unitsofmeasure.org';

const ICD_SYSTEMS: ReadonlySet<string> = new Set([ICD_10_CM, ICD_10_PCS]);

/** True for the code systems whose codes are compared in upper case, without dot, and by prefix. */
export function isIcdSystem(system: string): boolean {
  return ICD_SYSTEMS.has(system);
}

/** An ICD code in the form in which codes are compared: upper case, trimmed, without dot. */
export function foldIcdCode(code: string): string {
  return code.trim().toUpperCase().replaceAll('.', '');
}

/** Reads one Coding: system alias to canonical, white space trimmed, ICD codes folded. */
export function readCoding(coding: JsonObject, aliases: SystemAliases): Coding {
  const given = trimmed(coding['system']);
  const code = trimmed(coding['code']);
  if (given === undefined) return code === undefined ? {} : { code };
  const system = aliases.get(given) ?? given;
  if (code === undefined) return { system };
  return { system, code: isIcdSystem(system) ? foldIcdCode(code) : code };
}

/** A text without the blanks around it; a blank text is none. */
function trimmed(value: unknown): string | undefined {
  return asText(asText(value)?.trim());
}

/** All codings of a CodeableConcept. */
export function codingsOf(concept: unknown, aliases: SystemAliases): readonly Coding[] {
  const codings: Coding[] = [];
  for (const coding of objectsIn(asObject(concept)?.['coding'])) codings.push(readCoding(coding, aliases));
  return codings;
}

/** All codings of a list of CodeableConcepts. */
export function codingsOfAll(concepts: unknown, aliases: SystemAliases): readonly Coding[] {
  return objectsIn(concepts).flatMap((concept) => codingsOf(concept, aliases));
}

/** `system|code`, the only form in which a code is ever compared. */
export function codingKey(coding: Coding): string | undefined {
  return coding.system === undefined || coding.code === undefined
    ? undefined
    : `${coding.system}|${coding.code}`;
}

/** The codes of one system in a CodeableConcept, in the order found. */
export function codesIn(concept: unknown, system: string, aliases: SystemAliases): readonly string[] {
  return codingsOf(concept, aliases).flatMap((coding) =>
    coding.system === system && coding.code !== undefined ? [coding.code] : [],
  );
}

/** The extensions that turn a resource's meaning around. None is known to us, so any is a reason not to use it. */
export function hasUnknownModifier(resource: JsonObject): boolean {
  return (
    objectsIn(resource['modifierExtension']).length > 0 || asText(resource['implicitRules']) !== undefined
  );
}
