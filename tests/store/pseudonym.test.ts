import { createSecretKey } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { newPseudonyms } from '../../src/store/pseudonym.js';
import type { Subject } from '../../src/store/pseudonym.js';
import { TEST_KEY } from './records.js';

const names = newPseudonyms(TEST_KEY);
const subject: Subject = { iss: '-', fhirServer: 'https://ehr.example/fhir', id: 'patient-1' };

describe('a pseudonym', () => {
  it('is HMAC-SHA-256 over domain, client, server and id', () => {
    // Truth: independent implementation, OpenSSL 3:
    // printf %s '["patient","-","https://ehr.example/fhir","patient-1"]' | openssl dgst -sha256 -mac HMAC -macopt hexkey:<07, 32 times>
    expect(names.patient(subject)).toBe('da3f7733a876f258105d6eb0c64d1e1787cfbed1a4ffa732d6e92766d199e3f8');
  });

  it('differs by domain, client, server, id and key, and is the same for the same', () => {
    const others = [
      names.patient(subject),
      names.user(subject),
      names.patient({ ...subject, iss: 'https://ehr.example' }),
      names.patient({ ...subject, fhirServer: 'https://other.example/fhir' }),
      names.patient({ iss: '-', id: 'patient-1' }),
      names.patient({ ...subject, id: 'patient-2' }),
      newPseudonyms(createSecretKey(Buffer.alloc(32, 8))).patient(subject),
      // Parts that run into each other without a frame around them.
      names.patient({ iss: '-', fhirServer: 'https://ehr.example/fhirp', id: 'atient-1' }),
      names.input('salt', 'patient-1'),
      names.input('other salt', 'patient-1'),
    ];
    expect(new Set(others).size).toBe(others.length);
    expect(names.patient({ ...subject })).toBe(names.patient(subject));
  });

  it('holds nothing of the id', () => {
    for (const id of ['patient-1', 'a', '0123456789']) {
      const name = names.patient({ ...subject, id });
      expect(name).toMatch(/^[0-9a-f]{64}$/);
      if (id.length > 1) expect(name).not.toContain(id);
    }
  });

  it('is the same however the base URL of one server is written', () => {
    // RFC 3986 section 6.2.2 and 6.2.3: scheme and host without case, the default port left out.
    for (const fhirServer of [
      'https://ehr.example/fhir/',
      'HTTPS://EHR.example:443/fhir',
      'https://ehr.example/fhir//',
    ]) {
      expect(names.patient({ ...subject, fhirServer }), fhirServer).toBe(names.patient(subject));
    }
    // Paths have a case.
    expect(names.patient({ ...subject, fhirServer: 'https://ehr.example/FHIR' })).not.toBe(
      names.patient(subject),
    );
  });

  it('is not made with a key that is shorter than its digest', () => {
    // RFC 2104 section 3.
    expect(() => newPseudonyms(createSecretKey(Buffer.alloc(31, 1)))).toThrow(RangeError);
    expect(() => newPseudonyms(createSecretKey(Buffer.alloc(64, 1)))).not.toThrow();
  });
});
