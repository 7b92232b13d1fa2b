import { asObject, asText } from '../../fhir/json.js';
import type { JsonObject } from '../../fhir/json.js';
import { isTooDeep } from '../json-depth.js';
import { ReadFault } from './fault.js';
import type { Fault } from './fault.js';

/** What one request may cost. */
export interface RequestLimits {
  readonly bytes: number;
  readonly ms: number;
}

/** A FHIR resource as it came; the rest of it is not yet believed. */
export type Resource = JsonObject & { readonly resourceType: string };

/**
 * Reads one resource, within the limits, from the one address given: a redirect is not followed. Throws ReadFault and
 * nothing else.
 */
export async function boundedGet(
  address: string,
  token: string | undefined,
  limits: RequestLimits,
): Promise<Resource> {
  const signal = AbortSignal.timeout(Math.max(1, Math.ceil(limits.ms)));
  const broken = (): ReadFault => new ReadFault({ kind: signal.aborted ? 'timeout' : 'network' });
  const authorization = token === undefined ? {} : { authorization: `Bearer ${token}` };
  const headers = { accept: 'application/fhir+json', ...authorization };
  const response = await fetch(address, { headers, redirect: 'manual', signal }).catch(() => {
    throw broken();
  });
  const fault = headFault(response);
  if (fault) {
    void drain(response);
    throw new ReadFault(fault);
  }
  const bytes = await readBytes(response, limits.bytes, broken);
  return parseResource(bytes);
}

function headFault(response: Response): Fault | undefined {
  const { status } = response;
  if (response.type === 'opaqueredirect' || (status >= 300 && status < 400)) return { kind: 'redirect' };
  if (status !== 200) {
    const retryAfter = response.headers.get('retry-after');
    return { kind: 'status', status, ...(retryAfter !== null && { retryAfter }) };
  }
  return isFhirJson(response.headers.get('content-type') ?? '') ? undefined : { kind: 'not-fhir-json' };
}

function isFhirJson(contentType: string): boolean {
  const [type = '', ...parameters] = contentType.toLowerCase().split(';');
  const charset = parameters.map((each) => each.trim()).find((each) => each.startsWith('charset='));
  return (
    ['application/fhir+json', 'application/json'].includes(type.trim()) &&
    (charset === undefined || /^charset="?utf-?8"?$/.test(charset))
  );
}

/** Counts while reading: what the server says of the length, or packs, decides nothing. */
async function readBytes(response: Response, limit: number, broken: () => ReadFault): Promise<Uint8Array> {
  const chunks: Uint8Array[] = [];
  let size = 0;
  try {
    for await (const chunk of (response.body ?? []) as AsyncIterable<Uint8Array>) {
      size += chunk.length;
      // Leaving the loop cancels the stream, so that the rest is not sent.
      if (size > limit) throw new ReadFault({ kind: 'too-large' });
      chunks.push(chunk);
    }
  } catch (error) {
    throw error instanceof ReadFault ? error : broken();
  }
  return Buffer.concat(chunks, size);
}

function parseResource(bytes: Uint8Array): Resource {
  if (isTooDeep(bytes)) throw new ReadFault({ kind: 'too-deep' });
  const resource = asObject(parseJson(bytes));
  const resourceType = asText(resource?.['resourceType']);
  if (!resource || resourceType === undefined) throw new ReadFault({ kind: 'not-fhir-json' });
  return { ...resource, resourceType };
}

function parseJson(bytes: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes)) as unknown;
  } catch {
    throw new ReadFault({ kind: 'not-fhir-json' });
  }
}

const SHORT_BODY_BYTES = 64 * 1024;

/** Reads the short body of a refusal away, so that its connection can be used again; a long one is cut off. */
async function drain(response: Response): Promise<void> {
  await readBytes(response, SHORT_BODY_BYTES, () => new ReadFault({ kind: 'network' })).catch(
    () => undefined,
  );
}
