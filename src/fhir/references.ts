import { sha256Hex } from '../base/hash.js';
import { canonicalJson } from '../base/canonical-json.js';
import type { Translated } from '../facts/site-translation.js';
import { asObject, asText } from './json.js';
import type { JsonObject } from './json.js';

/** A resource with the full URL of the Bundle entry it came in. */
export interface Located {
  readonly resource: JsonObject;
  readonly fullUrl?: string;
  /** What a site's maps put into the resource, when they did. */
  readonly translation?: Translated;
}

/** The `reference` of a Reference element. */
export function referenceOf(element: unknown): string | undefined {
  return asText(asObject(element)?.['reference']);
}

/**
 * `Type/id` of a reference: without `/_history/…`, and without a base equal to the calling server's.
 * Another base is kept, because it names another server's resource.
 */
export function normaliseReference(reference: string, fhirServer: string | undefined): string {
  const version = reference.indexOf('/_history/');
  const bare = version < 0 ? reference : reference.slice(0, version);
  const base = fhirServer === undefined ? undefined : withoutTrailingSlash(fhirServer);
  if (base === undefined) return bare;
  if (bare.startsWith(`${base}/`)) return bare.slice(base.length + 1);
  // The same server in another spelling (case of the host, its own port) is the same server.
  const [root, link] = [spelled(base), spelled(bare)];
  return link.startsWith(`${root}/`) ? link.slice(root.length + 1) : bare;
}

function spelled(url: string): string {
  return /^https?:/i.test(url) && URL.canParse(url) ? withoutTrailingSlash(new URL(url).href) : url;
}

function withoutTrailingSlash(url: string): string {
  return url.endsWith('/') ? url.slice(0, -1) : url;
}

/**
 * How a resource is named in an evaluation: `Type/id`, else the entry's full URL, else a name made from its content
 * (draft orders often have no id, and an index would change when the Bundle is shuffled).
 */
export function nameOf(located: Located): string {
  const type = asText(located.resource['resourceType']) ?? 'Resource';
  const id = asText(located.resource['id']);
  if (id !== undefined) return `${type}/${id}`;
  if (located.fullUrl !== undefined) return located.fullUrl;
  return `${type}/content-${sha256Hex(canonicalJson(located.resource)).slice(0, 12)}`;
}

/** Every name under which a reference may point to this resource. */
export function namesOf(located: Located, fhirServer: string | undefined): readonly string[] {
  const names = [nameOf(located)];
  if (located.fullUrl !== undefined) names.push(normaliseReference(located.fullUrl, fhirServer));
  return names;
}
