import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { BOTH, HIPS, factsOf, procedure } from '../terminology/single-code.js';
import { pcs } from '../terminology/terminology-files.js';
import { CODE, concept, hipOf, read, searchset, snomed } from './records.js';

describe('an operation that was', () => {
  const FUSION = snomed('50172003');

  it.each(['not-done', 'entered-in-error', 'preparation', 'in-progress', 'on-hold', 'stopped'])(
    'set to %s is no history',
    (status) => {
      // Truth: published, FHIR R4 event-status.
      const found = factsOf('procedure', FUSION, { status });
      expect(found.left).toEqual({ present: [], unclear: [] });
      const { facts } = hipOf(read({ prefetch: { procedures: searchset(procedure(FUSION, { status })) } }));
      expect(facts.get('lumbar-fusion')?.state.status).toBe('absent');
    },
  );

  it.each<[string, JsonObject]>([
    ['set to unknown', { status: 'unknown' }],
    ['given a status that is no code of R4', { status: 'done' }],
    ['given no status', { status: undefined }],
    ['given a modifier that is not known', { modifierExtension: [{ url: 'http://example.org/not' }] }],
    ['dated on a day that does not exist', { performedDateTime: '2024-02-31' }],
    ['dated in the future', { performedDateTime: '2027-05-01' }],
  ])('%s leaves the answer unknown', (_what, more) => {
    const given = read({ prefetch: { procedures: searchset(procedure(FUSION, more)) } });
    expect(hipOf(given).facts.get('lumbar-fusion')?.state).toMatchObject({
      status: 'unknown',
      reason: 'refused',
    });
    expect(given.notes.map(({ from }) => from)).toEqual(['Procedure/p']);
  });

  it.each([
    ['a moment', { performedDateTime: '2019-03-04' }, '2019-03-04'],
    ['a period by its end', { performedPeriod: { start: '2019-03-04', end: '2019-03-05' } }, '2019-03-05'],
    ['an open period by its start', { performedPeriod: { start: '2019-03-04' } }, '2019-03-04'],
    ['a text only', { performedString: 'long ago' }, undefined],
  ])('dated by %s', (_what, more, date) => {
    // Truth: published, FHIR R4 Procedure.performed[x].
    const bare = procedure(FUSION, { performedDateTime: undefined, ...more });
    const { facts } = hipOf(read({ prefetch: { procedures: searchset(bare) } }));
    expect(facts.get('lumbar-fusion')?.provenance).toEqual({
      from: ['Procedure/p'],
      ...(date !== undefined && { date }),
    });
  });

  it('contradicting itself about the side is found, and does not decide', () => {
    const code = concept(pcs, '0Q860ZZ');
    const given = read({
      orders: [BOTH],
      prefetch: { procedures: searchset(procedure(code, { bodySite: [snomed(CODE.leftHipSite)] })) },
    });
    for (const hip of HIPS)
      expect(hipOf(given, hip).facts.get('hip-osteotomy')?.state).toMatchObject({ reason: 'refused' });
    expect(hipOf(given, 'left').findings.map(({ kind }) => kind)).toEqual(['side-contradiction']);
  });
});

describe('absence of what a diagnosis or an operation may say', () => {
  const stateOf = (id: string, prefetch: Readonly<Record<string, unknown>>) =>
    hipOf(read({ prefetch })).facts.get(id);

  it('is known only when both lists were wholly read, and names the one that was not', () => {
    expect(stateOf('lumbar-fusion', {})?.state.status).toBe('absent');
    expect(stateOf('lumbar-fusion', { procedures: undefined })?.setsMissing).toEqual(['procedures']);
    expect(stateOf('lumbar-fusion', { conditions: undefined })?.setsMissing).toEqual(['conditions']);
    expect(stateOf('lumbar-fusion', { conditions: undefined, procedures: undefined })?.setsMissing).toEqual([
      'conditions',
      'procedures',
    ]);
  });

  it('needs only the list in which a fact can stand', () => {
    expect(stateOf('parkinson-disease', { procedures: undefined })?.state.status).toBe('absent');
    expect(stateOf('hip-osteotomy', { conditions: undefined })?.state.status).toBe('absent');
  });

  it('is not known while an operation without a code stands in the list, for what operations may say', () => {
    const procedures = searchset(procedure({ text: 'operation on the back' }));
    expect(stateOf('lumbar-fusion', { procedures })?.state).toMatchObject({ reason: 'refused' });
    expect(stateOf('parkinson-disease', { procedures })?.state.status).toBe('absent');
  });

  it('gives way to an operation where the problem list could not be read', () => {
    const procedures = searchset(procedure(snomed('50172003')));
    expect(stateOf('lumbar-fusion', { procedures, conditions: undefined })?.state.status).toBe('present');
  });
});
