import { readDataSet } from '../fhir/bundle.js';
import { asObject, asText, objectsIn } from '../fhir/json.js';
import type { Located } from '../fhir/references.js';
import { resourceTypeOf } from '../facts/call-resources.js';
import type { Rulebook } from '../rulebook/types.js';
import type { AdviceInput } from './advise.js';
import { neverRecorded } from './never-recorded.js';
import { template } from './services.js';
import type { PrefetchKey } from './services.js';

/** A set that did not come whole, and how it could be asked for. */
export interface MissingSet {
  readonly key: PrefetchKey;
  /** A read or search relative to the FHIR base. */
  readonly url: string;
  /** Where the client stopped paging, and what it had sent until then. */
  readonly rest?: { readonly next: string; readonly soFar: readonly Located[] };
}

const NONE: ReadonlySet<PrefetchKey> = new Set();

/**
 * Those of the keys that prefetch did not answer wholly. A key whose token can't be resolved is not missing, nor is one
 * that the site never records.
 */
export function missingSets(
  input: AdviceInput,
  rulebook: Rulebook,
  keys: readonly PrefetchKey[],
): readonly MissingSet[] {
  const never: ReadonlySet<PrefetchKey> = input.site ? neverRecorded(input.service, input.site) : NONE;
  return keys.flatMap((key) => {
    if (never.has(key) && !Object.hasOwn(input.prefetch, key)) return [];
    const set = input.fetched?.get(key) ?? readDataSet(input.prefetch, key, resourceTypeOf(key));
    if (set.status === 'complete') return [];
    const url = resolveTokens(template(key, rulebook, input.site?.measureCodes ?? []), input);
    if (url === undefined) return [];
    const next = set.status === 'incomplete' ? nextLink(input.prefetch[key]) : undefined;
    return [{ key, url, ...(next !== undefined && { rest: { next, soFar: set.resources } }) }];
  });
}

function nextLink(value: unknown): string | undefined {
  const link = objectsIn(asObject(value)?.['link']).find(({ relation }) => relation === 'next');
  return asText(link?.['url']);
}

const ROLE = 'PractitionerRole/';

/** Puts the call's own ids in place of the tokens; undefined when one of them has none. */
function resolveTokens(text: string, { patientId, userId, context }: AdviceInput): string | undefined {
  const values: Readonly<Record<string, string | undefined>> = {
    'context.patientId': patientId,
    'context.encounterId': fhirId(context['encounterId']),
    userPractitionerRoleId: userId.startsWith(ROLE) ? userId.slice(ROLE.length) : undefined,
  };
  const tokens = [...text.matchAll(/\{\{([\w.]+)\}\}/g)].map(([, token]) => token ?? '');
  if (tokens.some((token) => values[token] === undefined)) return undefined;
  return text.replaceAll(/\{\{([\w.]+)\}\}/g, (_match, token: string) => values[token] ?? '');
}

function fhirId(value: unknown): string | undefined {
  const text = asText(value);
  return text !== undefined && /^[A-Za-z0-9\-.]{1,64}$/.test(text) ? text : undefined;
}
