import { objectsIn } from '../../../fhir/json.js';
import type { JsonObject } from '../../../fhir/json.js';

/** Members that say whose record it is; of a reference only its last part does. */
const IDENTIFYING: ReadonlySet<string> = new Set([
  'identifier',
  'name',
  'telecom',
  'address',
  'contact',
  'id',
  'birthDate',
  'patientId',
  'userId',
  'encounterId',
  'reference',
  'fullUrl',
]);

/** Members inside those that are a standard's own words. */
const VOCABULARY: ReadonlySet<string> = new Set(['system', 'use', 'resourceType', 'type', 'period', 'rank']);

const SHORTEST = 3;

/** Every name, number, address and id of a source, in lower case. */
export function identifyingValues(source: unknown): ReadonlySet<string> {
  const found = new Set<string>();
  const walk = (value: unknown, identifying: boolean): void => {
    if (typeof value === 'string') {
      const last = value.split('/').at(-1) ?? value;
      if (identifying && last.length >= SHORTEST) found.add(last.toLowerCase());
    } else if (Array.isArray(value)) for (const item of value) walk(item, identifying);
    else if (typeof value === 'object' && value !== null)
      for (const [key, member] of Object.entries(value))
        if (!identifying || !VOCABULARY.has(key)) walk(member, identifying || IDENTIFYING.has(key));
  };
  walk(source, false);
  return found;
}

/** Members that were named anew: what stands there was never copied. */
const RENAMED: ReadonlySet<string> = new Set(['id', 'reference', 'resourceType']);

/** Where a name, number, address or id of the source still stands in a cleaned Bundle. */
export function leftOver(cleaned: JsonObject, source: unknown): readonly string[] {
  const identifying = identifyingValues(source);
  const found: string[] = [];
  const walk = (value: unknown, path: string): void => {
    if (typeof value === 'string') {
      if (identifying.has(value.toLowerCase())) found.push(path);
    } else if (Array.isArray(value)) {
      for (const [index, item] of value.entries()) walk(item, `${path}[${index}]`);
    } else if (typeof value === 'object' && value !== null) {
      for (const [key, member] of Object.entries(value))
        if (!RENAMED.has(key)) walk(member, path === '' ? key : `${path}.${key}`);
    }
  };
  for (const [index, { resource }] of objectsIn(cleaned['entry']).entries())
    walk(resource, `entry[${index}]`);
  return found;
}
