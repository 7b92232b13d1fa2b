/**
 * The base URL of a FHIR server in the one form in which two are compared: scheme, host, port and path, without one
 * trailing slash. Undefined for anything that is not a plain http or https base.
 */
export function normaliseBase(text: string): string | undefined {
  if (!URL.canParse(text)) return undefined;
  const url = new URL(text);
  if (url.protocol !== 'https:' && url.protocol !== 'http:') return undefined;
  if (hasCredentials(url) || url.search !== '' || url.hash !== '') return undefined;
  return `${url.origin}${url.pathname.endsWith('/') ? url.pathname.slice(0, -1) : url.pathname}`;
}

/** An encoded slash, a twice encoded sign or a path parameter may become another path behind the next proxy. */
const HIDDEN_SLASH = /%2f|%5c|%25|;/i;

/**
 * The address of a link, absolute or relative to the base; undefined when it leads to another origin or out of the
 * base's path. The token of a call is sent to no other address.
 */
export function addressBelow(base: string, link: string): string | undefined {
  if (!URL.canParse(link, `${base}/`)) return undefined;
  const root = new URL(base);
  const url = new URL(link, `${base}/`);
  if (url.origin !== root.origin || hasCredentials(url) || HIDDEN_SLASH.test(url.pathname)) return undefined;
  const path = root.pathname === '/' ? '' : root.pathname;
  if (url.pathname !== path && !url.pathname.startsWith(`${path}/`)) return undefined;
  url.hash = '';
  return url.href;
}

function hasCredentials(url: URL): boolean {
  return url.username !== '' || url.password !== '';
}
