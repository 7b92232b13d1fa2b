import type { Terms } from './ladder.js';

/** One set to read: its prefetch key and its template with the tokens filled in, relative to the base. */
export interface SetQuery {
  readonly key: string;
  /** Such as `Patient/123` or `Condition?patient=123`. */
  readonly url: string;
}

export type ParsedQuery =
  | { readonly kind: 'read'; readonly type: string; readonly id: string }
  | { readonly kind: 'search'; readonly type: string; readonly terms: Terms };

const READ = /^([A-Z][A-Za-z]+)\/([A-Za-z0-9\-.]{1,64})$/;
const SEARCH = /^([A-Z][A-Za-z]+)\?(.+)$/;

/** Undefined for anything but a read or a search of one type: then no address is made of it. */
export function parseQuery(url: string): ParsedQuery | undefined {
  const [, readType, id] = READ.exec(url) ?? [];
  // Dots alone would be steps of the path.
  if (readType !== undefined && id !== undefined && !/^\.+$/.test(id))
    return { kind: 'read', type: readType, id };
  const [, type, query] = SEARCH.exec(url) ?? [];
  if (type === undefined || query === undefined) return undefined;
  return { kind: 'search', type, terms: [...new URLSearchParams(query)] };
}
