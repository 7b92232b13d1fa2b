import { createHmac } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import { canonicalJson } from '../base/canonical-json.js';

/** A patient or user as a record system names them. */
export interface Subject {
  /** The authenticated client; `-` where calls are not authenticated. */
  readonly iss: string;
  /** The base URL of the record system's FHIR server, where it was sent. */
  readonly fhirServer?: string;
  /** A patient's id, or a user's `Type/id`. */
  readonly id: string;
}

/** Names under which things are kept. Without the key nobody can tell, or try out, what they stand for. */
export interface Pseudonyms {
  readonly patient: (subject: Subject) => string;
  readonly user: (subject: Subject) => string;
  /** Makes other names that follow from a patient's data unguessable: given to whoever makes them. */
  readonly secret: string;
  /** The digest of one input of one record, a text or its UTF-8: equal inputs of two records differ by the salt. */
  readonly input: (salt: string, content: string | Uint8Array) => string;
}

/** Fewest bytes the key may have: as many as the digest (RFC 2104, section 3: a shorter key weakens it). */
export const PSEUDONYM_KEY_BYTES = 32;

/**
 * Pseudonyms by HMAC-SHA-256. Ids are unique within one FHIR server only, and a client may speak for several: both are
 * part of the name, since mistaking two patients for one would keep a card quiet that the other's surgeon never saw. A
 * client that leaves its server out of some calls has two names for one patient, which at worst repeats a card. Whoever
 * looks a patient up asks for both names.
 */
export function newPseudonyms(key: KeyObject): Pseudonyms {
  if ((key.symmetricKeySize ?? 0) < PSEUDONYM_KEY_BYTES)
    throw new RangeError(`a pseudonym key has at least ${PSEUDONYM_KEY_BYTES} bytes`);
  const digest = (...parts: readonly (string | null)[]): string =>
    createHmac('sha256', key).update(canonicalJson(parts), 'utf8').digest('hex');
  const named = (domain: string, { iss, fhirServer, id }: Subject): string =>
    digest(domain, iss, fhirServer === undefined ? null : sameServer(fhirServer), id);
  return {
    patient: (subject) => named('patient', subject),
    user: (subject) => named('user', subject),
    secret: digest('secret of names'),
    // Contents are whole resources: they are not written as JSON a second time.
    input: (salt, content) => {
      const keyed = createHmac('sha256', key).update(canonicalJson(['input', salt]), 'utf8');
      return (typeof content === 'string' ? keyed.update(content, 'utf8') : keyed.update(content)).digest(
        'hex',
      );
    },
  };
}

/** One spelling of a base URL: `https://EHR.example:443/fhir/` is `https://ehr.example/fhir`. */
function sameServer(url: string): string {
  return (URL.canParse(url) ? new URL(url).href : url).replace(/\/+$/, '');
}
