import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { concept, fact, intervalOf, searchset, snomed, stateOf } from './records.js';

/** Dated closed reductions of one hip's prosthesis, counted by day (clinical decisions §8). */

const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';
// ICD-10-PCS: closed reduction of the synthetic substitute, left and right hip joint.
const LEFT = '0SWBXJZ';
const RIGHT = '0SW9XJZ';

function reduction(id: string, code: JsonObject, more: JsonObject = {}): JsonObject {
  return {
    resourceType: 'Procedure',
    id,
    status: 'completed',
    subject: { reference: 'Patient/p' },
    code,
    performedDateTime: '2025-02-01',
    ...more,
  };
}

function count(...procedures: readonly JsonObject[]): readonly [number, number] | undefined {
  return intervalOf(fact('reduced-dislocations', { prefetch: { procedures: searchset(...procedures) } }));
}

describe('the dated closed reductions of a hip', () => {
  it('are counted once a day, on this hip only', () => {
    const done = [
      reduction('a', concept(PCS, LEFT)),
      reduction('b', concept(PCS, LEFT)),
      reduction('c', concept(PCS, LEFT), { performedDateTime: '2026-03-04T22:10:00Z' }),
      reduction('d', concept(PCS, RIGHT), { performedDateTime: '2026-05-05' }),
    ];
    expect(count(...done)).toEqual([2, 2]);
    const found = fact('reduced-dislocations', { prefetch: { procedures: searchset(...done) } });
    expect(found.provenance.date).toBe('2025-02-01');
  });

  it('are none where none is dated, done or of a prosthesis', () => {
    expect(count()).toEqual([0, 0]);
    expect(
      count(
        reduction('a', concept(PCS, LEFT), { performedDateTime: undefined }),
        reduction('b', concept(PCS, LEFT), { status: 'not-done' }),
        // SNOMED CT 52734007, a replacement, is no reduction.
        reduction('c', snomed('52734007')),
      ),
    ).toEqual([0, 0]);
  });

  it('are not known where the procedures were not read', () => {
    expect(stateOf('reduced-dislocations', { prefetch: { procedures: undefined } })).toBe('set-not-read');
  });
});

describe('the earlier revisions of a hip', () => {
  // SNOMED CT 112727005: revision of a total hip replacement; the hip asked about is the left one.
  const revision = (id: string, more: JsonObject = {}): JsonObject =>
    reduction(id, snomed('112727005'), { bodySite: [snomed('287679003')], ...more });
  const revised = (...procedures: readonly JsonObject[]): readonly [number, number] | undefined =>
    intervalOf(fact('earlier-revisions', { prefetch: { procedures: searchset(...procedures) } }));
  const on = (performedDateTime: string | undefined): JsonObject => ({ performedDateTime });

  it('are counted once a day, on this hip only, and none is none', () => {
    expect(revised()).toEqual([0, 0]);
    expect(revised(revision('a'), revision('b'))).toEqual([1, 1]);
    expect(revised(revision('a'), revision('b', on('2026-03-04')))).toEqual([2, 2]);
    const right = { bodySite: [snomed('287579007')] };
    expect(revised(revision('a'), revision('b', { ...on('2026-03-04'), ...right }))).toEqual([1, 1]);
    // SNOMED CT 52734007: a first replacement is no revision, and what was not done is none.
    expect(revised(reduction('a', snomed('52734007')), revision('b', { status: 'not-done' }))).toEqual([
      0, 0,
    ]);
  });

  it('lie between those that are sure and all of them where date or side is missing', () => {
    expect(revised(revision('a', on(undefined)))).toEqual([1, 1]);
    expect(revised(revision('a'), revision('b', on(undefined)))).toEqual([1, 2]);
    expect(revised(revision('a', on('2014')), revision('b', on('2014-05-02')))).toEqual([1, 2]);
    expect(revised(revision('a', on('2013')), revision('b', on('2014-05-02')))).toEqual([2, 2]);
    expect(revised(revision('a'), revision('b', { ...on('2026-03-04'), bodySite: undefined }))).toEqual([
      1, 2,
    ]);
  });

  it('are not known where the procedures were not read', () => {
    expect(stateOf('earlier-revisions', { prefetch: { procedures: undefined } })).toBe('set-not-read');
  });
});
