import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CODE_FORMS, passesMod10, passesVerhoeff } from '../../../src/workbench/check/code-forms.js';

describe('check digits', () => {
  it('hold for identifiers as published', () => {
    // Truth: published, SNOMED CT (hip replacement, myocardial infarction) and LOINC (body mass index, creatinine).
    for (const id of ['52734007', '22298006']) expect(passesVerhoeff(id)).toBe(true);
    for (const code of ['39156-5', '2160-0']) expect(passesMod10(code)).toBe(true);
  });

  it('catch every single wrong digit and every swap of unlike neighbors of a SNOMED CT identifier', () => {
    // Truth: published, Verhoeff 1969: all single errors and all adjacent transpositions are detected.
    const id = '52734007';
    for (let place = 0; place < id.length; place++) {
      for (const digit of '0123456789') {
        const other = `${id.slice(0, place)}${digit}${id.slice(place + 1)}`;
        expect(passesVerhoeff(other), other).toBe(other === id);
      }
      const [a = '', b = ''] = [id[place], id[place + 1]];
      const swapped = `${id.slice(0, place)}${b}${a}${id.slice(place + 2)}`;
      if (b !== '' && a !== b) expect(passesVerhoeff(swapped), swapped).toBe(false);
    }
  });

  it('leave exactly one digit that completes a number', () => {
    // Truth: closed form; both schemes are permutations of the last digit.
    fc.assert(
      fc.property(fc.stringMatching(/^[1-9]\d{1,10}$/), (number) => {
        const digits = Array.from('0123456789');
        expect(digits.filter((digit) => passesVerhoeff(`${number}${digit}`))).toHaveLength(1);
        expect(digits.filter((digit) => passesMod10(`${number}-${digit}`))).toHaveLength(1);
      }),
    );
  });
});

describe('the form of a code', () => {
  it.each([
    ['http://hl7.org/fhir/sid/icd-10-cm', ['T84.020A', 'G20', 'U07.1'], ['T84020A', 'T84.', '84.02', 'g20']],
    ['http://www.cms.gov/Medicare/Coding/ICD10', ['0SR9019'], ['0SR901', 'OSR9019', '0SR901I']],
    ['http://snomed.info/sct', ['52734007'], ['52734008', '052734007', '5273400']],
    ['http://loinc.org', ['39156-5'], ['39165-5', '391565']],
    ['http://dicom.nema.org/resources/ontology/DCM', ['112305'], ['11230', 'DCM']],
  ])('of %s', (system, right, wrong) => {
    // Truth: published, the systems' own rules.
    const form = CODE_FORMS.get(system);
    expect(right.filter((code) => form?.isCode(code) === true)).toEqual(right);
    expect(wrong.filter((code) => form?.isCode(code) === true)).toEqual([]);
  });
});
