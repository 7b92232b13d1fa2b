import { codesIn } from '../fhir/codings.js';
import { asObject, objectsIn } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import { inMember, withEntries } from './map-concepts.js';
import type { Change, Place } from './map-concepts.js';
import { listOf, matchesIn } from './site-map-index.js';
import type { CodeIndex, MapEntry, SiteMaps } from './site-map-index.js';
import type { Step } from './site-translation.js';

/** Local codes of qualifying components, and their local answers. */
export const mapComponents: Step = inMember('component', (component, place) => {
  const code = inConcept(component, 'code', (maps) => maps.components, place);
  const answered = inConcept(code?.value ?? component, 'valueCodeableConcept', (maps) => maps.values, place);
  if (!answered) return code;
  return { value: answered.value, mapped: [...(code?.mapped ?? []), ...answered.mapped] };
});

/** The local answer of a coded measure. */
export const mapMeasureAnswer: Step = inMember('valueCodeableConcept', (concept, place) =>
  withEntries(concept, matchesIn(concept, place.maps.values, place.maps.knowledge.aliases), place),
);

/** One concept of an object below a resource. */
export function inConcept(
  holder: JsonObject,
  name: string,
  of: (maps: SiteMaps) => CodeIndex<MapEntry>,
  place: Place,
): Change | undefined {
  const concept = asObject(holder[name]);
  if (!concept) return undefined;
  const inner = { ...place, element: `${place.element}.${name}` };
  const changed = withEntries(
    concept,
    matchesIn(concept, of(place.maps), place.maps.knowledge.aliases),
    inner,
  );
  return changed && { value: { ...holder, [name]: changed.value }, mapped: changed.mapped };
}

interface SuppliedComponents {
  readonly supplied: readonly JsonObject[];
  readonly assumed: Readonly<Record<string, string>>;
  readonly overruled: readonly string[];
}

/** Components for the qualifiers a map fixes and the resource does not state. */
export function suppliedComponents(
  resource: JsonObject,
  fixed: Readonly<Record<string, string | boolean>>,
  maps: SiteMaps,
): SuppliedComponents {
  const { aliases, systems } = maps.knowledge;
  const components = objectsIn(listOf(resource['component']));
  const supplied: JsonObject[] = [];
  const assumed: Record<string, string> = {};
  const overruled: string[] = [];
  for (const [name, value] of Object.entries(fixed)) {
    const stated = components.filter((component) =>
      codesIn(component['code'], systems.measure, aliases).includes(name),
    );
    if (stated.length === 0) {
      supplied.push(componentOf(name, value, maps));
      assumed[name] = String(value);
    } else if (!stated.every((component) => says(component, value, maps))) overruled.push(name);
  }
  return { supplied, assumed, overruled };
}

function componentOf(
  name: string,
  value: string | boolean,
  { knowledge: { systems } }: SiteMaps,
): JsonObject {
  const code = { coding: [{ system: systems.measure, code: name }] };
  return typeof value === 'boolean'
    ? { code, valueBoolean: value }
    : { code, valueCodeableConcept: { coding: [{ system: systems.measureValue, code: value }] } };
}

function says(component: JsonObject, value: string | boolean, { knowledge }: SiteMaps): boolean {
  if (typeof value === 'boolean') return component['valueBoolean'] === value;
  const { measureValue } = knowledge.systems;
  return codesIn(component['valueCodeableConcept'], measureValue, knowledge.aliases).includes(value);
}
