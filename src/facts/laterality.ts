import { ICD_10_CM, ICD_10_PCS, SNOMED_CT, codingsOf, codingsOfAll, foldIcdCode } from '../fhir/codings.js';
import type { Coding, SystemAliases } from '../fhir/codings.js';
import type { JsonObject } from '../fhir/json.js';
import { objectsIn } from '../fhir/json.js';
import type { Side } from './definitions.js';

export type StatedSide = Side | 'bilateral';

/** How one family of ICD-10-CM or ICD-10-PCS codes writes its side; the families differ, so each is a row of data. */
export interface LateralityFamily {
  readonly prefix: string;
  /** Character of the code without dot, counted from 1, that states the side. */
  readonly position?: number;
  readonly sides?: Readonly<Record<string, StatedSide>>;
  readonly codes?: Readonly<Record<string, StatedSide>>;
}

export interface LateralityTables {
  /** Folded ICD-10-CM prefix → family; the longest matching prefix counts. */
  readonly icd: ReadonlyMap<string, LateralityFamily>;
  /** The same for ICD-10-PCS, where the body part states the side. */
  readonly pcs: ReadonlyMap<string, LateralityFamily>;
  readonly sidedCodes: ReadonlyMap<string, StatedSide>;
  readonly sidedSites: ReadonlyMap<string, StatedSide>;
  readonly hipSites: ReadonlySet<string>;
  readonly sides: ReadonlyMap<string, StatedSide>;
}

/** The SNOMED CT part as its file has it. */
export interface SnomedLaterality {
  readonly sidedCodes: Readonly<Record<string, StatedSide>>;
  readonly sidedSites: Readonly<Record<string, StatedSide>>;
  readonly hipSites: readonly string[];
  readonly sides: Readonly<Record<string, StatedSide>>;
}

/** A family row as its file has it; members may be undefined there. */
type FamilyRow = { readonly [Member in keyof LateralityFamily]: LateralityFamily[Member] | undefined } & {
  readonly prefix: string;
};

/** Puts the tables into the form in which codes are looked up: ICD codes folded, lists as maps. */
export function lateralityTables(
  families: { readonly icd: readonly FamilyRow[]; readonly pcs: readonly FamilyRow[] },
  snomed: SnomedLaterality,
): LateralityTables {
  return {
    icd: familyMap(families.icd),
    pcs: familyMap(families.pcs),
    sidedCodes: new Map(Object.entries(snomed.sidedCodes)),
    sidedSites: new Map(Object.entries(snomed.sidedSites)),
    hipSites: new Set(snomed.hipSites),
    sides: new Map(Object.entries(snomed.sides)),
  };
}

function familyMap(families: readonly FamilyRow[]): ReadonlyMap<string, LateralityFamily> {
  const rows = families.map(({ prefix, position, sides, codes }): readonly [string, LateralityFamily] => {
    const folded =
      codes && Object.fromEntries(Object.entries(codes).map(([code, side]) => [foldIcdCode(code), side]));
    const row = {
      prefix,
      ...(position !== undefined && { position }),
      ...(sides && { sides }),
      ...(folded && { codes: folded }),
    };
    return [foldIcdCode(prefix), row];
  });
  return new Map(rows);
}

/** The sides a resource states: none → unknown, several that disagree → conflict. */
export type SideReading =
  | { readonly kind: 'sides'; readonly sides: readonly Side[] }
  | { readonly kind: 'unknown' }
  | { readonly kind: 'conflict'; readonly statements: readonly StatedSide[] };

/**
 * The side of an order, procedure, condition or observation: every statement is collected (sided code, body site,
 * side qualifier, order detail), then compared. Left and right as separate body sites under an unsided code are a
 * bilateral operation, which is good input; any other disagreement is a conflict.
 */
export function sideOf(resource: JsonObject, tables: LateralityTables, aliases: SystemAliases): SideReading {
  const byCode = codingsOf(resource['code'], aliases).flatMap((coding) => sideOfCode(coding, tables) ?? []);
  const bySite = siteEntries(resource['bodySite']).map((site) =>
    sidesOfSite(codingsOf(site, aliases), tables),
  );
  const byDetail = codingsOfAll(resource['orderDetail'], aliases).flatMap(
    (coding) => bareSide(coding, tables) ?? [],
  );
  return compare([...byCode, ...sitesTogether(bySite), ...byDetail]);
}

/** Several body sites, each with one side, together name both hips; one body site with two sides contradicts itself. */
function sitesTogether(sites: readonly (readonly StatedSide[])[]): readonly StatedSide[] {
  const all = sites.flat();
  const separate = sites.every((sides) => sides.length <= 1);
  return separate && all.includes('left') && all.includes('right') ? ['bilateral'] : all;
}

/** R4 Observation has one bodySite, Procedure, Condition and ServiceRequest a list: both are read. */
function siteEntries(bodySite: unknown): readonly unknown[] {
  return Array.isArray(bodySite) ? objectsIn(bodySite) : bodySite === undefined ? [] : [bodySite];
}

function compare(statements: readonly StatedSide[]): SideReading {
  const distinct = [...new Set(statements)].sort();
  const only = distinct[0];
  if (only === undefined) return { kind: 'unknown' };
  if (distinct.length > 1) return { kind: 'conflict', statements: distinct };
  return { kind: 'sides', sides: only === 'bilateral' ? ['left', 'right'] : [only] };
}

/** The side a code itself states: a sided SNOMED CT code, or an ICD code by its family's table. */
export function sideOfCode(coding: Coding, tables: LateralityTables): StatedSide | undefined {
  if (coding.code === undefined) return undefined;
  if (coding.system === SNOMED_CT) return tables.sidedCodes.get(coding.code) ?? tables.sides.get(coding.code);
  if (coding.system === ICD_10_PCS) return sideOfIcd(coding.code, tables.pcs);
  return coding.system === ICD_10_CM ? sideOfIcd(coding.code, tables.icd) : undefined;
}

function sideOfIcd(code: string, families: ReadonlyMap<string, LateralityFamily>): StatedSide | undefined {
  for (let length = code.length; length >= 3; length -= 1) {
    const family = families.get(code.slice(0, length));
    if (!family) continue;
    if (family.codes) return longestPrefixed(code, family.codes);
    const digit = family.position === undefined ? '' : code.charAt(family.position - 1);
    return family.sides?.[digit];
  }
  return undefined;
}

function longestPrefixed(code: string, codes: Readonly<Record<string, StatedSide>>): StatedSide | undefined {
  for (let length = code.length; length >= 3; length -= 1) {
    const side = codes[code.slice(0, length)];
    if (side !== undefined) return side;
  }
  return undefined;
}

/** One body-site entry: a sided hip region, or a hip site with a side as second coding, or a bare side. */
function sidesOfSite(codings: readonly Coding[], tables: LateralityTables): readonly StatedSide[] {
  const stated = new Set<StatedSide>();
  for (const coding of codings) {
    if (coding.system !== SNOMED_CT || coding.code === undefined) continue;
    const side = tables.sidedSites.get(coding.code) ?? tables.sides.get(coding.code);
    if (side !== undefined) stated.add(side);
  }
  return [...stated];
}

function bareSide(coding: Coding, tables: LateralityTables): StatedSide | undefined {
  return coding.system === SNOMED_CT && coding.code !== undefined ? tables.sides.get(coding.code) : undefined;
}
