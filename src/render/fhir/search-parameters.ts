import type { Published } from './published.js';

/** The types of resource that are published, in the order in which they are listed. */
export const PUBLISHED_TYPES = [
  'PlanDefinition',
  'Library',
  'ValueSet',
  'CodeSystem',
  'ConceptMap',
  'Questionnaire',
  'OperationDefinition',
  'CapabilityStatement',
] as const satisfies readonly Published['resourceType'][];
export type PublishedType = (typeof PUBLISHED_TYPES)[number];

/** By which parameters each type can be searched, and how R4 says they compare. */
export const SEARCH_PARAMETERS = {
  _id: 'token',
  url: 'uri',
  version: 'token',
  name: 'string',
  title: 'string',
  status: 'token',
  description: 'string',
  publisher: 'string',
} as const;
export type SearchParameterName = keyof typeof SEARCH_PARAMETERS;

/** Types whose search parameters R4 defines together, under the name of conformance resources. */
const CONFORMANCE: ReadonlySet<PublishedType> = new Set([
  'ValueSet',
  'CodeSystem',
  'ConceptMap',
  'OperationDefinition',
  'CapabilityStatement',
]);

/** The canonical URL of R4's definition of a parameter. */
export function searchParameterDefinition(type: PublishedType, name: SearchParameterName): string {
  const prefix = 'http://hl7.org/fhir/SearchParameter';
  if (name === '_id') return `${prefix}/Resource-id`;
  return `${prefix}/${CONFORMANCE.has(type) ? 'conformance' : type}-${name}`;
}
