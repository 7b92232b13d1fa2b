import { resourceTypeOf } from '../facts/call-resources.js';
import type { Site } from '../rulebook/site.js';
import { allKeys } from './services.js';
import type { PrefetchKey, Service } from './services.js';

/** The keys of a service whose answers a site says it does not keep: not sent, they are empty, and nobody is asked. */
export function neverRecorded(service: Service, { sources, measureCodes }: Site): ReadonlySet<PrefetchKey> {
  const absent = new Set(sources.absent);
  const keys = allKeys(service, measureCodes);
  return new Set(keys.filter((key) => absent.has(key) || absent.has(resourceTypeOf(key))));
}
