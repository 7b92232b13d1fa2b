import { describe, expect, it } from 'vitest';
import { nameOf, namesOf, normaliseReference, referenceOf } from '../../src/fhir/references.js';
import { namesPatient, ownershipOf } from '../../src/fhir/same-patient.js';

const BASE = 'https://record.example/fhir';

// Truth throughout: integration decisions §3, "same patient", unless another is named.
describe('a reference', () => {
  it.each([
    ['Patient/123', 'Patient/123'],
    ['Patient/123/_history/4', 'Patient/123'],
    [`${BASE}/Patient/123`, 'Patient/123'],
    [`${BASE}/Patient/123/_history/4`, 'Patient/123'],
  ])('%s is %s, history and own base stripped', (reference, name) => {
    expect(normaliseReference(reference, BASE)).toBe(name);
    expect(normaliseReference(reference, `${BASE}/`)).toBe(name);
  });

  it.each([
    'https://other.example/fhir/Patient/123',
    'https://record.example/fhir2/Patient/123',
    'https://record.example/Patient/123',
    'http://record.example/fhir/Patient/123',
    'urn:uuid:0b1f7d8e-52c9-4c57-8a34-7d0f7a9b6e22',
    '#inside',
  ])('to elsewhere, %s, keeps what it says', (reference) => {
    expect(normaliseReference(reference, BASE)).toBe(reference);
  });

  it('keeps its base when the server of the call is not known', () => {
    expect(normaliseReference(`${BASE}/Patient/123/_history/1`, undefined)).toBe(`${BASE}/Patient/123`);
  });

  it('is read from its element, and an element without one gives none', () => {
    // Truth: published, FHIR R4 Reference.
    expect(referenceOf({ reference: 'Patient/1' })).toBe('Patient/1');
    for (const element of [
      { display: 'Mrs X' },
      { reference: '' },
      { reference: 5 },
      'Patient/1',
      null,
      undefined,
    ]) {
      expect(referenceOf(element)).toBeUndefined();
    }
  });
});

describe('the name of a resource', () => {
  it('is type and id, else its full URL, else made of its content and not of its place', () => {
    // Truth: the project's design: shuffled bundles give identical bytes, so a place cannot name.
    const resource = { resourceType: 'ServiceRequest', code: { text: 'a' } };
    expect(nameOf({ resource: { ...resource, id: 'r1' }, fullUrl: 'urn:uuid:1' })).toBe('ServiceRequest/r1');
    expect(nameOf({ resource, fullUrl: 'urn:uuid:1' })).toBe('urn:uuid:1');
    expect(nameOf({ resource })).toMatch(/^ServiceRequest\/content-[0-9a-f]{12}$/);
    expect(nameOf({ resource })).toBe(
      nameOf({ resource: { code: { text: 'a' }, resourceType: 'ServiceRequest' } }),
    );
    expect(nameOf({ resource })).not.toBe(nameOf({ resource: { ...resource, code: { text: 'b' } } }));
  });

  it('may be any under which another resource points to it', () => {
    const located = {
      resource: { resourceType: 'ServiceRequest', id: 'r1' },
      fullUrl: `${BASE}/ServiceRequest/r1`,
    };
    expect(namesOf(located, BASE)).toContain('ServiceRequest/r1');
    expect(namesOf({ ...located, fullUrl: 'urn:uuid:1' }, BASE)).toEqual(['ServiceRequest/r1', 'urn:uuid:1']);
  });
});

describe('the same patient', () => {
  const identity = { patientId: '123', fhirServer: BASE, fullUrl: 'urn:uuid:p' };

  it.each([
    'Patient/123',
    'Patient/123/_history/2',
    `${BASE}/Patient/123`,
    `${BASE}/Patient/123/_history/9`,
    'urn:uuid:p',
  ])('is named by %s', (reference) => {
    expect(namesPatient(reference, identity)).toBe(true);
    expect(ownershipOf({ subject: { reference } }, identity)).toBe('same');
    expect(ownershipOf({ patient: { reference } }, identity)).toBe('same');
  });

  it.each([
    'Patient/124',
    'Patient/1234',
    'patient/123',
    'https://other.example/fhir/Patient/123',
    'Group/123',
    'urn:uuid:q',
    '123',
  ])('is not named by %s', (reference) => {
    expect(namesPatient(reference, identity)).toBe(false);
    expect(ownershipOf({ subject: { reference } }, identity)).toBe('other');
  });

  it('is unstated without a subject, and the full URL counts only when the patient came with one', () => {
    expect(ownershipOf({}, identity)).toBe('unstated');
    expect(ownershipOf({ subject: { display: 'Mrs X' } }, identity)).toBe('unstated');
    expect(namesPatient('urn:uuid:p', { patientId: '123', fhirServer: BASE })).toBe(false);
  });

  it('on another base is another patient even with the same id, also when the base of the call is not known', () => {
    expect(namesPatient(`${BASE}/Patient/123`, { patientId: '123' })).toBe(false);
  });
});

describe('one server in two spellings', () => {
  it('is one server: case of the host, its own port, a slash at the end', () => {
    // Truth: RFC 3986, section 6.2: scheme and host are case-insensitive, a default port says nothing.
    for (const base of ['https://A.example/fhir', 'https://a.example:443/fhir/', 'HTTPS://a.example/fhir'])
      expect(normaliseReference('https://a.example/fhir/Patient/p', base)).toBe('Patient/p');
    expect(normaliseReference('https://a.example/other/Patient/p', 'https://A.example/fhir')).toBe(
      'https://a.example/other/Patient/p',
    );
  });
});
