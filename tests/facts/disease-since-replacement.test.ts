import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { chart, factOf, replacement, valueOf } from './charts.js';
import type { Sets } from './charts.js';
import { condition, order, snomed } from './records.js';

/** Diseases of nerve and spine first recorded since a hip was last operated on (clinical decisions §1, late change). */

const ID = 'disease-since-replacement';
// ICD-10-CM G20.A1 Parkinson disease, M43.26 fusion of lumbar spine, M80.08XA vertebral fracture, Z98.1 fusion of any joint.
const parkinson = (date: string | undefined, id = 'g20'): JsonObject =>
  condition(id, 'G20.A1', { onsetDateTime: date });
const replaced = replacement('left');
const revised = replacement('left', {
  id: 'revised',
  code: snomed('112727005'),
  performedDateTime: '2024-02-01',
});

function since(sets: Sets): unknown {
  return valueOf(factOf(chart(sets), ID));
}

describe('a disease since the hip was last operated on', () => {
  it.each<[string, Sets, unknown]>([
    [
      'after the replacement',
      { procedures: [replaced], conditions: [parkinson('2025-09-11')] },
      ['Parkinson disease, 11 Sep 2025'],
    ],
    ['before it', { procedures: [replaced], conditions: [parkinson('2015-09-11')] }, 'absent'],
    [
      'before it and again after it',
      { procedures: [replaced], conditions: [parkinson('2015-09-11'), parkinson('2025-09-11', 'again')] },
      'absent',
    ],
    [
      'between replacement and revision',
      { procedures: [replaced, revised], conditions: [parkinson('2022-09-11')] },
      'absent',
    ],
    [
      'after the revision',
      { procedures: [replaced, revised], conditions: [parkinson('2025-09-11')] },
      ['Parkinson disease, 11 Sep 2025'],
    ],
    [
      'after the replacement, with a revision of unknown date',
      {
        procedures: [replaced, { ...revised, performedDateTime: undefined }],
        conditions: [parkinson('2025-09-11')],
      },
      'input-missing',
    ],
    ['without a date', { procedures: [replaced], conditions: [parkinson(undefined)] }, 'input-missing'],
    [
      'one before and another after',
      {
        procedures: [replaced],
        conditions: [
          parkinson('2015-09-11'),
          condition('fracture', 'M80.08XA', { onsetDateTime: '2025-01-02' }),
        ],
      },
      ['vertebral fracture, 2 Jan 2025'],
    ],
    [
      'one before, and a fusion that may be lumbar',
      {
        procedures: [replaced],
        conditions: [parkinson('2015-09-11'), condition('fused', 'Z98.1', { onsetDateTime: '2025-01-02' })],
      },
      'code-unclear',
    ],
    [
      'the healing of an older fracture',
      {
        procedures: [replaced],
        conditions: [condition('fracture', 'S32.010K', { onsetDateTime: '2025-01-02' })],
      },
      'absent',
    ],
    ['none', { procedures: [replaced] }, 'absent'],
  ])('%s', (_what, sets, expected) => {
    expect(since(sets)).toEqual(expected);
  });

  it('is told with the plan where this hip is to be operated on again, so that it is told once', () => {
    const record = chart({
      procedures: [replaced],
      conditions: [parkinson('2025-09-11')],
      serviceRequests: [order({ status: 'active', code: snomed('112727005') })],
    });
    expect(valueOf(factOf(record, ID, 'left', 'in-place'))).toBe('absent');
  });
});

describe('operations and reductions on several dates', () => {
  it('keep the first and the last of them', () => {
    const { provenance } =
      factOf(chart({ procedures: [revised, replaced] }), 'earlier-hip-replacement') ?? {};
    expect(provenance).toMatchObject({ date: '2019-05-06', lastDate: '2024-02-01' });
    const once = factOf(chart({ procedures: [replaced] }), 'earlier-hip-replacement')?.provenance;
    expect(once).not.toHaveProperty('lastDate');
  });
});
