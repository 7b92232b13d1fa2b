import type { JsonObject } from '../../src/fhir/json.js';
import type { SetQuery } from '../../src/server/fallback/set-query.js';
import { startFhirServer } from './fhir-server.js';
import type { ServerSwitches } from './refusals.js';

/** How a record system lets its record be read: by what it sends, by what it answers, or both. */
export interface RecordProfile {
  readonly prefetch: boolean;
  /** The habits of its FHIR server; undefined when a call brings no access to one. */
  readonly server: ServerSwitches | undefined;
}

/** The four record systems every patient is read through (integration decisions section 6). */
export const RECORD_PROFILES = {
  full: { prefetch: true, server: {} },
  'us-core-like': {
    prefetch: false,
    server: { demandsStatus: true, refusesCommaLists: true, unknownTypes: { DeviceRequest: 404 } },
  },
  'prefetch-only': { prefetch: true, server: undefined },
  'token-only': { prefetch: false, server: {} },
} as const satisfies Readonly<Record<string, RecordProfile>>;

/** The prefetch a record system would send: what its own server answers, page after page put together. */
export async function prefetchOf(
  resources: readonly JsonObject[],
  queries: readonly SetQuery[],
): Promise<JsonObject> {
  const server = await startFhirServer(resources, { pageSize: 10_000 });
  try {
    const prefetch: Record<string, unknown> = {};
    for (const { key, url } of queries) {
      const response = await fetch(`${server.base}/${url}`);
      if (response.ok) prefetch[key] = await response.json();
    }
    return prefetch;
  } finally {
    await server.stop();
  }
}
