import { describe, expect, it } from 'vitest';
import {
  codesIn,
  codingKey,
  codingsOf,
  codingsOfAll,
  foldIcdCode,
  hasUnknownModifier,
  readCoding,
} from '../../src/fhir/codings.js';
import { ValueSetIndex } from '../../src/facts/value-set-index.js';
import { shipped } from '../rulebook/shipped.js';

const ICD = 'http://hl7.org/fhir/sid/icd-10-cm';
const SNOMED = 'http://snomed.info/sct';
const { aliases } = shipped.knowledge;

describe('a coding', () => {
  it.each(['G20.A1', 'g20.a1', 'G20A1', ' G20.a1 '])('of ICD-10-CM written %j is read as G20A1', (code) => {
    // Truth: integration decisions §1; ICD-10-CM codes are the same with and without the dot, in either case.
    expect(readCoding({ system: ICD, code }, aliases)).toEqual({ system: ICD, code: 'G20A1' });
    expect(foldIcdCode(code)).toBe('G20A1');
  });

  it.each([
    ['urn:oid:2.16.840.1.113883.6.90', ICD],
    ['http://terminology.hl7.org/CodeSystem/icd10CM', ICD],
    ['urn:oid:2.16.840.1.113883.6.4', 'http://www.cms.gov/Medicare/Coding/ICD10'],
  ])('under the system %s counts as one of %s', (alias, canonical) => {
    // Truth: published, the identifiers HL7 lists for ICD-10-CM (OID …6.90) and ICD-10-PCS (OID …6.4).
    expect(readCoding({ system: alias, code: 'm16.12' }, aliases).system).toBe(canonical);
    expect(readCoding({ system: alias, code: 'm16.12' }, aliases).code).toBe('M1612');
  });

  it('of another system keeps case and dots, because there they may tell codes apart', () => {
    // Truth: published, FHIR R4 Coding: codes are case sensitive unless the system says otherwise.
    expect(readCoding({ system: 'http://example.org/local', code: 'a.b' }, aliases).code).toBe('a.b');
    expect(readCoding({ code: 'g20.a1' }, aliases)).toEqual({ code: 'g20.a1' });
  });

  it('is never completed: without system or code it matches nothing', () => {
    // Truth: integration decisions §1: matched as system|code, never by text.
    expect(codingKey({ code: '52734007' })).toBeUndefined();
    expect(codingKey({ system: SNOMED })).toBeUndefined();
    expect(codingKey({ system: SNOMED, code: '52734007' })).toBe(`${SNOMED}|52734007`);
    expect(readCoding({ display: 'Total replacement of hip' }, aliases)).toEqual({});
  });

  it('that is not shaped as one is passed over without an error', () => {
    // Truth: outside JSON may have any shape; each of these is legal JSON.
    for (const value of [null, 'text', 7, [], [{ system: SNOMED }], {}]) {
      expect(codingsOf(value, aliases)).toEqual([]);
      expect(codingsOf({ coding: [value, { system: SNOMED, code: '7771000' }] }, aliases)).toContainEqual({
        system: SNOMED,
        code: '7771000',
      });
      expect(codingsOfAll(value, aliases)).toEqual([]);
    }
    expect(readCoding({ system: 5, code: true }, aliases)).toEqual({});
  });

  it('without any character but white space states no code', () => {
    // Truth: published, FHIR R4 code: at least one character that is not white space.
    expect(readCoding({ system: ICD, code: '   ' }, aliases).code).toBeUndefined();
  });

  it('is found among others of its concept by system, in the order written', () => {
    // Truth: closed form.
    const concept = {
      coding: [
        { system: SNOMED, code: '24136001' },
        { system: ICD, code: 'M16.12' },
        { system: SNOMED, code: '7771000' },
      ],
    };
    expect(codesIn(concept, SNOMED, aliases)).toEqual(['24136001', '7771000']);
    expect(codesIn(concept, ICD, aliases)).toEqual(['M1612']);
  });
});

describe('a value set', () => {
  const index = new ValueSetIndex([
    {
      id: 'set',
      exact: [
        { system: ICD, code: 'M16.1' },
        { system: SNOMED, code: '52734007' },
      ],
      prefixes: [{ system: ICD, code: 'S72.0' }],
      excluded: [{ system: ICD, code: 'S72.09' }],
      excludedPrefixes: [{ system: ICD, code: 'S72.02' }],
    },
  ]);
  const has = (system: string, code: string): boolean => {
    return index.setsOf(readCoding({ system, code }, aliases)).has('set');
  };

  it('holds an ICD category and everything below it, but not what only starts like it elsewhere', () => {
    // Truth: published, ICD-10-CM: longer codes stand below the shorter ones they begin with.
    expect(has(ICD, 'S72.0')).toBe(true);
    expect(has(ICD, 's72.001a')).toBe(true);
    expect(has(ICD, 'S72')).toBe(false);
    expect(has(ICD, 'S72.1')).toBe(false);
    expect(has('http://example.org/local', 'S72.001A')).toBe(false);
  });

  it('holds an exact code and nothing below it', () => {
    // Truth: closed form.
    expect(has(ICD, 'M16.1')).toBe(true);
    expect(has(ICD, 'M16.11')).toBe(false);
    expect(has(SNOMED, '52734007')).toBe(true);
    expect(has(SNOMED, '527340071')).toBe(false);
  });

  it('does not hold what it excludes', () => {
    // Truth: published, FHIR R4 ValueSet: excluded codes are taken out of the included ones.
    expect(has(ICD, 'S72.02')).toBe(false);
    expect(has(ICD, 'S72.021A')).toBe(false);
    expect(has(ICD, 'S72.09')).toBe(false);
    expect(has(ICD, 'S72.091A')).toBe(true);
  });
});

describe('a modifier', () => {
  it('that is not known makes a resource unusable, implicit rules too', () => {
    // Truth: published, FHIR R4: a modifierExtension or implicitRules that is not understood must not be ignored.
    expect(hasUnknownModifier({ modifierExtension: [{ url: 'http://example.org/not-done' }] })).toBe(true);
    expect(hasUnknownModifier({ implicitRules: 'http://example.org/rules' })).toBe(true);
    expect(hasUnknownModifier({ extension: [{ url: 'http://example.org/x' }], modifierExtension: [] })).toBe(
      false,
    );
  });
});
