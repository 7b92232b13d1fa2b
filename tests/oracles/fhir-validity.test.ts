import { describe, expect, it } from 'vitest';
import { fhirIssues } from './fhir-validity.js';

const observation = {
  resourceType: 'Observation',
  id: 'cup-1',
  status: 'final',
  code: { coding: [{ system: 'http://example.org/measurements', code: 'cup-anteversion' }] },
  subject: { reference: 'Patient/p1' },
  effectiveDateTime: '2024-02-29T10:00:00.25+01:00',
  valueQuantity: { value: 15, unit: 'deg', system: 'http://unitsofmeasure.org', code: 'deg' },
};

const operationOutcome = {
  resourceType: 'OperationOutcome',
  issue: [{ severity: 'error', code: 'required', diagnostics: 'missing', expression: ['context.patientId'] }],
};

const valueSet = {
  resourceType: 'ValueSet',
  url: 'http://example.org/ValueSet/hip',
  version: '1.0.0',
  name: 'Hip',
  status: 'draft',
  experimental: true,
  date: '2024-02',
  compose: {
    include: [{ system: 'http://example.org/measurements', concept: [{ code: 'cup-anteversion' }] }],
  },
};

const bundleOf = (resource: object) => ({
  resourceType: 'Bundle',
  type: 'collection',
  entry: [{ resource }],
});

describe('a valid R4 resource gives no issues', () => {
  it.each<[string, object]>([
    ['an Observation', observation],
    ['an OperationOutcome', operationOutcome],
    ['a ValueSet with a date of year and month', valueSet],
    ['a Bundle of a valid resource', bundleOf(observation)],
    [
      'an extension on a primitive',
      { ...observation, _status: { extension: [{ url: 'http://x.org', valueDate: '2024' }] } },
    ],
    ['an instant', { ...observation, issued: '2024-02-29T23:59:60Z' }],
    [
      'an absolute reference',
      { ...observation, subject: { reference: 'https://example.org/fhir/Patient/p1' } },
    ],
    [
      'a urn:uuid reference',
      { ...observation, subject: { reference: 'urn:uuid:4e0a3a1e-3283-4575-ab82-028d55fe2719' } },
    ],
    [
      'a contained resource and a local reference',
      { ...observation, contained: [{ resourceType: 'Patient', id: 'p' }], subject: { reference: '#p' } },
    ],
    [
      'a RiskAssessment without probability, which @medplum/core misreads (ras-2)',
      {
        resourceType: 'RiskAssessment',
        status: 'final',
        subject: { reference: 'Patient/p1' },
        prediction: [{ outcome: { text: 'dislocation' } }],
      },
    ],
  ])('%s', (_, resource) => {
    expect(fhirIssues(resource)).toEqual([]);
  });
});

const riskOf = (probabilityDecimal: number) => ({
  resourceType: 'RiskAssessment',
  status: 'final',
  subject: { reference: 'Patient/p1' },
  prediction: [{ probabilityDecimal }],
});

describe('@medplum/core reports structure and invariants', () => {
  it.each<[string, object, string]>([
    ['a required member left out', { ...observation, code: undefined }, 'Observation.code'],
    ['a member R4 does not have', { ...observation, side: 'left' }, 'Observation.side'],
    ['a list where one value belongs', { ...observation, status: ['final'] }, 'Observation.status'],
    [
      'a number given as text',
      { ...observation, valueQuantity: { value: '15' } },
      'Observation.value[x].value',
    ],
    ['invariant vsd-1', { ...valueSet, compose: { include: [{ concept: [{ code: 'x' }] }] } }, 'vsd-1'],
    [
      'an invariant inside a Bundle',
      bundleOf({ ...observation, extension: [{ url: 'http://x.org' }] }),
      'ext-1',
    ],
    ['a probability over 100 (ras-2)', riskOf(101), 'ras-2'],
  ])('%s', (_, resource, named) => {
    const issues = fhirIssues(resource).filter((issue) => issue.startsWith('medplum: '));
    expect(issues.join('\n')).toContain(named);
  });

  it('accepts a probability of 100 (ras-2)', () => {
    expect(fhirIssues(riskOf(100))).toEqual([]);
  });
});

describe('the fhir package reports required codes, reference targets and unexpected members', () => {
  it.each<[string, object, string]>([
    ['a code outside a required value set', { ...observation, status: 'finale' }, 'Observation.status'],
    ['such a code inside a Bundle', bundleOf({ ...observation, status: 'finale' }), 'Observation.status'],
    [
      'such a code in a contained resource',
      { ...observation, contained: [{ resourceType: 'Patient', id: 'p', gender: 'm' }] },
      'Patient.gender',
    ],
    [
      'a relative reference to the wrong type',
      { ...observation, subject: { reference: 'Medication/m1' } },
      'Medication/m1',
    ],
    [
      'an absolute reference to the wrong type',
      { ...observation, subject: { reference: 'https://example.org/fhir/Medication/m1' } },
      'Medication/m1',
    ],
    ['a member R4 does not have', { ...observation, side: 'left' }, 'Observation.side'],
    ['a null which it cannot read', { ...observation, code: null }, 'could not be read'],
  ])('%s', (_, resource, named) => {
    const issues = fhirIssues(resource).filter((issue) => issue.startsWith('fhir: '));
    expect(issues.join('\n')).toContain(named);
  });
});

describe('our own checks report what both readers miss', () => {
  it.each<[string, object, string]>([
    [
      'two value[x] at once',
      { ...observation, valueString: 'x' },
      'own: valueQuantity and valueString at once at Observation',
    ],
    [
      'two value[x], one by its extension only',
      { ...observation, _valueString: { id: 'x' } },
      'own: valueQuantity and valueString at once at Observation',
    ],
    [
      'two value[x] in a component inside a Bundle',
      bundleOf({ ...observation, component: [{ code: { text: 'x' }, valueString: 'x', valueInteger: 1 }] }),
      'own: valueString and valueInteger at once at Bundle.entry[0].resource.component[0]',
    ],
    ['an empty array', { ...observation, category: [] }, 'own: empty array at Observation.category'],
    ['an empty object', { ...observation, method: {} }, 'own: empty object at Observation.method'],
    ['an empty object in a list', { ...observation, note: [{}] }, 'own: empty object at Observation.note[0]'],
    [
      'an empty string',
      { ...observation, valueQuantity: { unit: '' } },
      'own: empty string at Observation.valueQuantity.unit',
    ],
    [
      'a dateTime that is in no calendar',
      { ...observation, effectiveDateTime: '2024-02-31' },
      'own: "2024-02-31" is not in the calendar at Observation.effectiveDateTime',
    ],
    [
      '29 February of a common year, with a time',
      { ...observation, effectiveDateTime: '2023-02-29T10:00:00Z' },
      'own: "2023-02-29T10:00:00Z" is not in the calendar at Observation.effectiveDateTime',
    ],
    [
      'an instant that is in no calendar',
      { ...observation, issued: '2024-04-31T10:00:00Z' },
      'own: "2024-04-31T10:00:00Z" is not in the calendar at Observation.issued',
    ],
    [
      'a date that is in no calendar, in a contained resource',
      { ...observation, contained: [{ resourceType: 'Patient', id: 'p', birthDate: '1950-11-31' }] },
      'own: "1950-11-31" is not in the calendar at Observation.contained[0].birthDate',
    ],
    [
      'a time without zone',
      { ...observation, effectiveDateTime: '2024-02-03T10:00:00' },
      'own: "2024-02-03T10:00:00" is not a dateTime at Observation.effectiveDateTime',
    ],
    [
      'a time without zone inside a data type',
      { ...observation, effectiveDateTime: undefined, effectivePeriod: { start: '2024-02-03T10:00:00' } },
      'own: "2024-02-03T10:00:00" is not a dateTime at Observation.effectivePeriod.start',
    ],
    [
      'a time without zone below a content reference',
      {
        resourceType: 'Parameters',
        parameter: [{ name: 'a', part: [{ name: 'b', valueDateTime: '2024-02-03T10:00:00' }] }],
      },
      'own: "2024-02-03T10:00:00" is not a dateTime at Parameters.parameter[0].part[0].valueDateTime',
    ],
    ['an id with a space', { ...observation, id: 'cup 1' }, 'own: "cup 1" is not an id at Observation.id'],
  ])('%s', (_, resource, issue) => {
    const issues = fhirIssues(resource);
    expect(issues.filter((each) => each.startsWith('own: '))).toEqual([issue]);
  });

  it.each([{}, { resourceType: 'Visit' }, { resourceType: 'Period' }, { resourceType: 'Resource' }])(
    '%j is not a resource',
    (value) => {
      expect(fhirIssues(value)).toEqual([expect.stringMatching(/^own: \w+ is not a resource type of R4$/)]);
    },
  );
});
