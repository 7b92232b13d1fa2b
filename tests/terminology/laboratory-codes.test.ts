import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { concept, fact, intervalOf, quantity, searchset, stateOf } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { loinc, publishedConcepts } from './terminology-files.js';

const IDS = ['crp', 'esr', 'cobalt-serum', 'cobalt-blood', 'chromium-serum', 'body-weight', 'body-height'];

function observed(code: string, value: number, unit: string): { prefetch: { observations: JsonObject } } {
  return {
    prefetch: {
      observations: searchset({
        resourceType: 'Observation',
        id: 'o',
        status: 'final',
        subject: { reference: 'Patient/p' },
        code: concept(loinc, code),
        effectiveDateTime: '2026-11-02',
        ...quantity(value, unit),
      }),
    },
  };
}

// Truth: tests/published/terminology (LOINC codes with their names) and the notes of the concepts.
describe('a laboratory value or body measure', () => {
  const published: Readonly<Record<string, readonly (readonly [string, string])[]>> = {
    'body-weight': [
      ['29463-7', 'body-weight'],
      ['3141-9', 'body-weight'],
    ],
    'body-height': [
      ['8302-2', 'body-height'],
      ['3137-7', 'body-height'],
      ['8308-9', 'body-height'],
    ],
    esr: [
      ['4537-7', 'esr'],
      ['30341-2', 'esr'],
    ],
    crp: [
      ['1988-5', 'crp'],
      ['30522-7', 'crp'],
    ],
    'serum-cobalt': [
      ['5627-5', 'cobalt-serum'],
      ['5625-9', 'cobalt-blood'],
    ],
    'serum-chromium': [['5622-6', 'chromium-serum']],
  };

  it('has every published code but the one for an amount of substance', () => {
    for (const [name, codes] of Object.entries(published)) {
      const listed = publishedConcepts
        .find((each) => each.concept === name)
        ?.codes.filter(({ system }) => system === loinc)
        .map(({ code }) => code);
      const read = codes.map(([code]) => code);
      expect(listed?.filter((code) => code !== '76485-2').sort(), name).toEqual([...read].sort());
    }
  });

  it.each(Object.values(published).flat())('coded %s is %s and no other', (code, id) => {
    const unit = shipped.factById.get(id);
    if (unit?.kind !== 'observation') throw new Error(`${id} is no observation`);
    const given = observed(code, 5, unit.unit);
    expect(intervalOf(fact(id, given))).toEqual([5, 5]);
    for (const other of IDS.filter((each) => each !== id)) expect(stateOf(other, given)).toBe('not-recorded');
  });

  // Truth: closed form, UCUM 2.2: mg/dL = 10 mg/L, [lb_av] = 0.45359237 kg, [in_i] = 2.54 cm, 1 h = 60 min.
  it.each([
    ['crp', '1988-5', 1.2, 'mg/dL', 12],
    ['esr', '4537-7', 0.5, 'mm/min', 30],
    ['cobalt-blood', '5625-9', 7, 'ng/mL', 7],
    ['chromium-serum', '5622-6', 0.7, 'ug/dL', 7],
    ['body-weight', '29463-7', 150, '[lb_av]', 68.038856],
    ['body-height', '8302-2', 1.68, 'm', 168],
    ['body-height', '8302-2', 66, '[in_i]', 167.64],
  ])('%s (%s) of %d %s is converted by its unit', (id, code, value, unit, wanted) => {
    const [low, high] = intervalOf(fact(id, observed(code, value, unit))) ?? [];
    expect(low).toBeCloseTo(wanted, 5);
    expect(high).toBe(low);
  });

  it.each([
    ['crp', '1988-5', 'nmol/L'],
    ['cobalt-serum', '5627-5', 'nmol/L'],
    ['body-height', '8302-2', 'kg'],
  ])('%s in a unit that measures something else (%s in %s) is refused', (id, code, unit) => {
    // Truth: UCUM: mass and amount of substance differ in dimension; they do not convert without the substance.
    expect(stateOf(id, observed(code, 5, unit))).toBe('refused');
  });

  it('as an amount of substance is another measure: C-reactive protein in moles is not read', () => {
    expect(stateOf('crp', observed('76485-2', 5, 'nmol/L'))).toBe('not-recorded');
  });

  it('is asked for by its codes', () => {
    for (const [code] of Object.values(published).flat()) expect(shipped.laboratoryCodes).toContain(code);
    expect(shipped.laboratoryCodes).not.toContain('76485-2');
  });
});
