import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { chart, factOf, replacement, valueOf } from './charts.js';
import type { Sets } from './charts.js';
import { concept, condition } from './records.js';

/** Years from a replacement to its first dislocation on record. Truth: the calendar, a year of 365.25 days. */

const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';

function reduced(id: string, date: string | undefined, code = '0SWBXJZ'): JsonObject {
  return { ...replacement('left', { performedDateTime: date }), id, code: concept(PCS, code), bodySite: [] };
}

function replaced(date: string | undefined): JsonObject {
  return replacement('left', { performedDateTime: date });
}

function years(sets: Sets): unknown {
  return valueOf(factOf(chart(sets), 'years-to-first-dislocation'));
}

describe('the time to the first dislocation', () => {
  it('runs from the first replacement to the first closed reduction', () => {
    const procedures = [replaced('2013-03-01'), reduced('b', '2026-05-01'), reduced('a', '2026-03-01')];
    // 4748 days.
    expect(years({ procedures })).toEqual([13, 13]);
  });

  it('is not that to a reduction of the other hip', () => {
    expect(years({ procedures: [replaced('2013-03-01'), reduced('a', '2026-03-01', '0SW9XJZ')] })).toBe(
      'not-recorded',
    );
  });

  it('counts a dated diagnosis of this hip, which may be the earlier', () => {
    // ICD-10-CM T84.021A: dislocation of internal left hip prosthesis, initial encounter.
    const conditions = [condition('out', 'T84.021A', { onsetDateTime: '2013-09-01' })];
    expect(years({ procedures: [replaced('2013-03-01'), reduced('a', '2026-03-01')], conditions })).toEqual([
      0.5, 0.5,
    ]);
  });

  it('lies between bounds where a dislocation without a date may have been the first, or only a year is stated', () => {
    const undated = [replaced('2013-03-01'), reduced('a', '2026-03-01'), reduced('b', undefined)];
    expect(years({ procedures: undated })).toEqual([0, 13]);
    expect(years({ procedures: [replaced('2013'), reduced('a', '2026-03-01')] })).toEqual([12.16, 13.16]);
  });

  it('leaves out what is dated before the replacement', () => {
    expect(years({ procedures: [replaced('2013-03-01'), reduced('a', '2012-03-01')] })).toBe('not-recorded');
  });

  it('is not known without the date of the replacement', () => {
    expect(years({ procedures: [replaced(undefined), reduced('a', '2026-03-01')] })).toBe('input-missing');
  });
});
