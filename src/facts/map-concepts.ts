import { SNOMED_CT } from '../fhir/codings.js';
import type { Coding } from '../fhir/codings.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { LateralityTables, StatedSide } from './laterality.js';
import { hasCoding, matchesIn, withCodings } from './site-map-index.js';
import type { CodeIndex, SidedEntry, SiteMaps, VisitEntry } from './site-map-index.js';
import { mappedCode, recoded } from './site-translation.js';
import type { MappedCode, Step } from './site-translation.js';

/** An object of a list, or a concept, that was changed. */
export interface Change {
  readonly value: JsonObject;
  readonly mapped: readonly MappedCode[];
}

/** What to change in one object below a resource; undefined when nothing. */
type ChangeOf = (value: JsonObject, place: Place) => Change | undefined;

export interface Place {
  /** Resource type and path, such as `Procedure.code`. */
  readonly element: string;
  readonly resource: JsonObject;
  readonly maps: SiteMaps;
}

/** Changes a member of a resource: the object it is, or each object of the list it is. */
export function inMember(name: string, change: ChangeOf): Step {
  return (resource, maps) => {
    const given = resource[name];
    if (given === undefined) return undefined;
    const place = { element: `${asText(resource['resourceType']) ?? 'Resource'}.${name}`, resource, maps };
    if (Array.isArray(given)) {
      const list = inList(given, place, change);
      return list && recoded({ ...resource, [name]: list.items }, list.mapped);
    }
    const object = asObject(given);
    const changed = object && change(object, place);
    return changed && recoded({ ...resource, [name]: changed.value }, changed.mapped);
  };
}

/** A list in which some objects were changed; undefined when none was. */
export function inList(
  list: readonly unknown[],
  place: Place,
  change: ChangeOf,
): { readonly items: readonly unknown[]; readonly mapped: readonly MappedCode[] } | undefined {
  let items: unknown[] | undefined;
  let mapped: readonly MappedCode[] = [];
  for (const [index, given] of list.entries()) {
    const object = asObject(given);
    const changed = object && change(object, place);
    if (!changed) continue;
    items ??= [...list];
    items[index] = changed.value;
    mapped = [...mapped, ...changed.mapped];
  }
  return items && { items, mapped };
}

/** Adds to a concept what an index holds for its codes. */
export function codesFrom(of: (maps: SiteMaps) => CodeIndex<SidedEntry>): ChangeOf {
  return (concept, place) =>
    withEntries(concept, matchesIn(concept, of(place.maps), place.maps.knowledge.aliases), place);
}

/**
 * A concept with the codes of its map entries. A local code of an operation or a diagnosis that names a side says it
 * as a sided standard code would: as a coding of the same concept, so that a body site that disagrees still conflicts.
 */
export function withEntries(
  concept: JsonObject,
  entries: readonly SidedEntry[],
  { element, maps }: Place,
): Change | undefined {
  if (entries.length === 0) return undefined;
  const { aliases, laterality } = maps.knowledge;
  const codings = entries.flatMap(({ target, side }) => [
    target,
    ...(side === undefined ? [] : codingOf(side, laterality.sides)),
  ]);
  const value = withCodings(concept, codings, aliases);
  return value === concept
    ? undefined
    : { value, mapped: entries.map((entry) => mappedCode(element, entry)) };
}

/** The code of one hip as a body site. */
export function hipSiteCoding(side: StatedSide, tables: LateralityTables): readonly Required<Coding>[] {
  return codingOf(side, tables.sidedSites);
}

/** The first code the tables have for a side. */
function codingOf(side: StatedSide, codes: ReadonlyMap<string, StatedSide>): readonly Required<Coding>[] {
  const found = [...codes].find(([, stated]) => stated === side);
  return found ? [{ system: SNOMED_CT, code: found[0] }] : [];
}

/** The codes of a visit: some count only when the appointment also gives a reason. */
export const visitCodes: ChangeOf = (concept, place) => {
  const entries = matchesIn(concept, place.maps.visits, place.maps.knowledge.aliases)
    .flat()
    .filter((entry) => counts(entry, place));
  return withEntries(concept, entries, place);
};

function counts(entry: VisitEntry, { element, resource, maps }: Place): boolean {
  // A diagnosis alone never makes a visit an operation: a code with reasons is looked for among types only.
  if (entry.reasons.length > 0 && element === 'Appointment.reasonCode') return false;
  return entry.reasons.every((reason) =>
    objectsIn(resource['reasonCode']).some((given) => hasCoding(given, reason, maps.knowledge.aliases)),
  );
}
