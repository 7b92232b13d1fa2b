import { describe, expect, it } from 'vitest';
import { readPatientBundle } from '../../../src/workbench/evaluate/read-bundle.js';

const patient = (id?: string): object => ({
  resource: { resourceType: 'Patient', ...(id !== undefined && { id }) },
});
const bundle = (...entry: readonly object[]): string =>
  JSON.stringify({ resourceType: 'Bundle', type: 'collection', entry });

describe('reading the Bundle of one patient', () => {
  it('takes a Bundle with one Patient, told once or twice', () => {
    expect(readPatientBundle(bundle(patient('a'), patient('a')), 'x')).toMatchObject({
      ok: true,
      patientId: 'a',
    });
  });

  it.each([
    ['nothing', '', 'x: expected a FHIR Bundle, found nothing in it'],
    [
      'broken JSON',
      '{"resourceType":\n"Bundle",,}',
      'x: broken JSON at line 2, column 10: expected a member name in double quotes, found ,',
    ],
    [
      'another resource',
      '{"resourceType":"Patient","id":"a"}',
      'x: expected a FHIR R4 Bundle, found a Patient',
    ],
    ['a list', '[]', 'x: expected a FHIR R4 Bundle, found a list'],
    ['a number', '7', 'x: expected a FHIR R4 Bundle, found a number'],
    [
      'no patient',
      bundle({ resource: { resourceType: 'Condition' } }),
      'x: expected one Patient in the Bundle, found 1 Condition',
    ],
    ['an empty Bundle', bundle(), 'x: expected one Patient in the Bundle, found no resources'],
    ['a patient without id', bundle(patient()), 'x: expected a Patient with an id, found one without'],
    [
      'several patients',
      bundle(patient('a'), patient('b')),
      'x: expected one Patient in the Bundle, found 2: a, b',
    ],
  ])('says what is wrong with %s', (_name, text, message) => {
    expect(readPatientBundle(text, 'x')).toMatchObject({ ok: false, message });
  });
});
