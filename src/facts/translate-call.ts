import { asObject } from '../fhir/json.js';
import type { JsonObject } from '../fhir/json.js';
import type { SiteMaps } from './site-map-index.js';
import { translated } from './site-maps.js';
import type { Translated } from './site-translation.js';

/** What a call brings: resources of its context and of its prefetch. */
export interface CallContent {
  readonly context: JsonObject;
  readonly prefetch: JsonObject;
}

export interface TranslatedCall extends CallContent {
  /** What was put into a resource, by the resource as it now is. */
  readonly translations: ReadonlyMap<JsonObject, Translated>;
}

const NO_TRANSLATIONS: ReadonlyMap<JsonObject, Translated> = new Map();

/** Translates every resource of a call once, before anything reads it. What has no local code is not copied. */
export function translateCall(call: CallContent, maps: SiteMaps | undefined): TranslatedCall {
  if (!maps) return { ...call, translations: NO_TRANSLATIONS };
  const translations = new Map<JsonObject, Translated>();
  const inResource = (resource: JsonObject): JsonObject => {
    const done = translated(resource, maps);
    if (!done) return resource;
    translations.set(done.resource, done);
    return done.resource;
  };
  return {
    context: inMembers(call.context, inResource),
    prefetch: inMembers(call.prefetch, inResource),
    translations,
  };
}

type Rewrite = (resource: JsonObject) => JsonObject;

/** Members of a context that are no resources (ids, selections) are left as they are. */
function inMembers(members: JsonObject, rewrite: Rewrite): JsonObject {
  let changed: Record<string, unknown> | undefined;
  for (const [name, given] of Object.entries(members)) {
    const value = asObject(given);
    if (value?.['resourceType'] === undefined) continue;
    const next = value['resourceType'] === 'Bundle' ? inBundle(value, rewrite) : rewrite(value);
    if (next === value) continue;
    changed ??= { ...members };
    changed[name] = next;
  }
  return changed ?? members;
}

function inBundle(bundle: JsonObject, rewrite: Rewrite): JsonObject {
  const given = bundle['entry'];
  if (!Array.isArray(given)) return bundle;
  const entries = given as readonly unknown[];
  let changed: unknown[] | undefined;
  for (const [index, item] of entries.entries()) {
    const entry = asObject(item);
    const resource = asObject(entry?.['resource']);
    const next = resource && rewrite(resource);
    if (!entry || next === resource) continue;
    changed ??= [...entries];
    changed[index] = { ...entry, resource: next };
  }
  return changed ? { ...bundle, entry: changed } : bundle;
}
