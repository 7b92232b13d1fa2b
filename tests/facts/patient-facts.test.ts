import { describe, expect, it } from 'vitest';
import type { PatientDefinition } from '../../src/facts/definitions.js';
import { patientFact } from '../../src/facts/patient-fact.js';
import type { JsonObject } from '../../src/fhir/json.js';
import { NOW } from './records.js';
import { valueOf } from './charts.js';

/** Age and sex as the Patient resource states them, on 24 November 2026. Truth: the calendar. */

const AGE: PatientDefinition = {
  kind: 'patient',
  id: 'age',
  title: 'age',
  scope: 'patient',
  of: 'age',
  unit: 'a',
};
const SEX: PatientDefinition = { kind: 'patient', id: 'sex', title: 'sex', scope: 'patient', of: 'sex' };

function said(definition: PatientDefinition, patient: JsonObject): unknown {
  return valueOf(patientFact(definition, { resource: patient, name: 'Patient/p' }, NOW));
}

describe('the age of a patient', () => {
  it.each<[unknown, unknown]>([
    ['1956-11-24', [70, 70]],
    ['1956-11-25', [69, 69]],
    ['1956-02-29', [70, 70]],
    ['1956-11', [69, 70]],
    ['1956-10', [70, 70]],
    ['1956', [69, 70]],
    ['2026-11-24', [0, 0]],
    ['2027-01-01', 'not-recorded'],
    ['1956-13-01', 'not-recorded'],
    [undefined, 'not-recorded'],
    [1956, 'not-recorded'],
  ])('born %j, in completed years: %j', (birthDate, expected) => {
    expect(said(AGE, { birthDate })).toEqual(expected);
  });

  it('is not known where no Patient was sent', () => {
    const fact = patientFact(AGE, undefined, NOW);
    expect(valueOf(fact)).toBe('set-not-read');
    expect(fact.setsMissing).toEqual(['patient']);
  });
});

describe('the sex of a patient', () => {
  it.each<[unknown, unknown]>([
    ['female', ['female']],
    ['male', ['male']],
    ['other', 'not-recorded'],
    ['unknown', 'not-recorded'],
    [undefined, 'not-recorded'],
  ])('stated as %j is %j', (gender, expected) => {
    expect(said(SEX, { gender })).toEqual(expected);
  });
});
