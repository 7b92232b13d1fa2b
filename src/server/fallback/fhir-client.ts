import { Client } from 'fhir-kit-client';
import { addressBelow } from './base-url.js';
import { boundedGet } from './bounded-get.js';
import type { RequestLimits } from './bounded-get.js';
import { ReadFault } from './fault.js';

/**
 * The FHIR client, held to one server. The package itself sends its token to whatever address it is given, follows
 * redirects, reads bodies of any length and, when its debug log is on, writes the token there; it takes no `fetch` of
 * ours. So its transport is replaced, and it never gets to know the token.
 */
export function newFhirClient(base: string, token: string | undefined, limits: () => RequestLimits): Client {
  const client = new Client({ baseUrl: base });
  client.httpClient.request = async (method, url) => {
    if (method !== 'GET') throw new TypeError(`expected to read only, found ${method}`);
    const address = addressBelow(base, client.httpClient.expandUrl(url));
    if (address === undefined) throw new ReadFault({ kind: 'foreign' });
    return await boundedGet(address, token, limits());
  };
  return client;
}
