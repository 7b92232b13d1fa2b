import { asObject, objectsIn } from './json.js';
import type { JsonObject } from './json.js';
import { normaliseReference, referenceOf } from './references.js';

/** R4 extension that points from a body site to the BodyStructure meant. */
export const BODY_SITE_EXTENSION = 'http://hl7.org/fhir/StructureDefinition/bodySite';
/** R4 extension of Procedure, also met on ServiceRequest. */
const TARGET_EXTENSION = 'http://hl7.org/fhir/StructureDefinition/procedure-targetBodyStructure';
/** The laterality of an observed structure, given beside its site. */
const LATERALITY_EXTENSION = 'http://hl7.org/fhir/StructureDefinition/observation-structureLaterality';

/** Finds a resource of the call by its reference. */
export type Resolver = (reference: string) => JsonObject | undefined;

/**
 * The same resource with what its body-site extensions say written as ordinary body sites, so that the side is read
 * in one place: the location and its qualifiers of a BodyStructure, or a laterality given beside the site.
 */
export function withBodyStructures(
  resource: JsonObject,
  resolve: Resolver,
  fhirServer: string | undefined,
): JsonObject {
  const added = [
    ...structuresNamed(resource).flatMap((reference) => {
      const structure =
        containedIn(resource, reference) ?? resolve(normaliseReference(reference, fhirServer));
      return structure?.['resourceType'] === 'BodyStructure' ? [siteOf(structure)] : [];
    }),
    ...lateralityConcepts(resource),
  ];
  if (added.length === 0) return resource;
  const given = resource['bodySite'];
  const sites = Array.isArray(given) ? objectsIn(given) : given === undefined ? [] : [given];
  return { ...resource, bodySite: [...sites, ...added] };
}

function structuresNamed(resource: JsonObject): readonly string[] {
  const sites = resource['bodySite'];
  const onSites = (Array.isArray(sites) ? objectsIn(sites) : [asObject(sites) ?? {}]).flatMap((site) =>
    objectsIn(site['extension']),
  );
  return [...onSites, ...objectsIn(resource['extension'])].flatMap((extension) => {
    const { url } = extension;
    if (url !== BODY_SITE_EXTENSION && url !== TARGET_EXTENSION) return [];
    return referenceOf(extension['valueReference']) ?? [];
  });
}

function containedIn(resource: JsonObject, reference: string): JsonObject | undefined {
  if (!reference.startsWith('#')) return undefined;
  return objectsIn(resource['contained']).find(({ id }) => id === reference.slice(1));
}

/** Location and qualifiers of one structure are one body site: a hip, and which. */
function siteOf(structure: JsonObject): JsonObject {
  const concepts = [asObject(structure['location']) ?? {}, ...objectsIn(structure['locationQualifier'])];
  return { coding: concepts.flatMap((concept) => objectsIn(concept['coding'])) };
}

function lateralityConcepts(resource: JsonObject): readonly JsonObject[] {
  return objectsIn(resource['extension']).flatMap((extension) => {
    const concept = asObject(extension['valueCodeableConcept']);
    return concept && extension['url'] === LATERALITY_EXTENSION ? [concept] : [];
  });
}
