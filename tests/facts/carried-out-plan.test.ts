import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { CODE, fact, intervalOf, measure, quantity, searchset, snomed, stateOf } from './records.js';
import type { Case } from './records.js';

/** The plan behind a measured value: made before its operation and after the one before that. */

function replaced(id: string, date: string, site: string = CODE.leftHipSite): JsonObject {
  return {
    resourceType: 'Procedure',
    id,
    status: 'completed',
    subject: { reference: 'Patient/p' },
    code: snomed(CODE.totalHip),
    bodySite: [snomed(site)],
    performedDateTime: date,
  };
}

const planned = (value: number, date: string, more: JsonObject = {}): JsonObject =>
  measure('cup-inclination', quantity(value, 'deg'), { id: `plan-${value}`, date, more });

const measured = (value: number, date: string): JsonObject =>
  measure('cup-inclination', quantity(value, 'deg'), {
    id: `film-${value}`,
    stages: ['postoperative'],
    date,
  });

function given(measures: readonly JsonObject[], ...procedures: readonly JsonObject[]): Case {
  return { construct: 'in-place', measures, prefetch: { procedures: searchset(...procedures) } };
}

const PLAN = 'planned-cup-inclination';

describe('the plan of the operation done', () => {
  it('is the last one made before it', () => {
    const measures = [planned(40, '2026-08-01'), planned(43, '2026-09-01'), measured(45, '2026-10-20')];
    const found = fact(PLAN, given(measures, replaced('a', '2026-09-10')));
    expect(intervalOf(found)).toEqual([43, 43]);
    expect(found.provenance).toMatchObject({ date: '2026-09-01', from: ['Observation/plan-43'] });
  });

  it('is that of the operation the measurement followed, not of a later or an earlier one', () => {
    const operations = [replaced('a', '2020-03-01'), replaced('b', '2026-09-10')];
    const plans = [planned(40, '2020-02-01'), planned(44, '2026-09-01')];
    const of = (date: string): unknown =>
      intervalOf(fact(PLAN, given([...plans, measured(50, date)], ...operations)));
    expect(of('2020-05-01')).toEqual([40, 40]);
    expect(of('2026-10-20')).toEqual([44, 44]);
  });

  it('is not known without a dated operation, a dated plan or a measurement after it', () => {
    const plan = planned(40, '2026-09-01');
    const film = measured(50, '2026-10-20');
    const operation = replaced('a', '2026-09-10');
    const undated = { ...operation, performedDateTime: undefined };
    expect(stateOf(PLAN, given([plan, film], undated))).toBe('not-recorded');
    expect(stateOf(PLAN, given([plan], operation))).toBe('not-recorded');
    expect(stateOf(PLAN, given([plan, measured(50, '2026-08-15')], operation))).toBe('not-recorded');
    expect(stateOf(PLAN, given([planned(40, '2026-09-12'), film], operation))).toBe('not-recorded');
  });

  it('is not that of the other hip', () => {
    const other = planned(40, '2026-09-01', { bodySite: snomed(CODE.rightHipSite) });
    const measures = [other, measured(50, '2026-10-20')];
    expect(stateOf(PLAN, given(measures, replaced('a', '2026-09-10')))).toBe('not-recorded');
  });

  it('is not chosen between two of one day that disagree', () => {
    const measures = [planned(38, '2026-09-01'), planned(45, '2026-09-01'), measured(50, '2026-10-20')];
    expect(stateOf(PLAN, given(measures, replaced('a', '2026-09-10')))).toBe('conflicting');
  });
});
