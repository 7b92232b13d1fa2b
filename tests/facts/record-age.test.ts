import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { factOf, replacement, signing, valueOf } from './charts.js';
import type { Sets } from './charts.js';
import { ICD, concept, condition, measure, order, quantity, snomed } from './records.js';

/** Values that change with time, and how old they are when an order is signed on 24 November 2026. */

const LENGTH = 'stale-length-measures';
const POSTURE = 'stale-posture-measures';

function native(code: string, value: number, unit: string, date: string | undefined): JsonObject {
  const measured = measure(code, quantity(value, unit), { stages: ['native'] });
  return { ...measured, effectiveDateTime: date };
}

const leg = (date: string | undefined): JsonObject => native('leg-length-discrepancy', -18, 'mm', date);
const tilt = (date: string): JsonObject => native('app-tilt-standing', -14, 'deg', date);

function stale(id: string, sets: Sets): unknown {
  return valueOf(factOf(signing([order()], sets), id, 'left', 'planned'));
}

describe('a measure that ages', () => {
  it.each<[string | undefined, unknown]>([
    // Truth: closed form, calendar: twelve months before 24 November 2026, 10:00 UTC; a day without zone spans 50 hours.
    ['2025-11-22', ['22 Nov 2025: leg length discrepancy -18 mm']],
    ['2025-11-23', 'absent'],
    ['2025-11-24', 'absent'],
    ['2025-11-24T09:59:59Z', ['24 Nov 2025: leg length discrepancy -18 mm']],
    ['2025-11-24T10:00:00Z', 'absent'],
    ['2025-10', ['Oct 2025: leg length discrepancy -18 mm']],
    ['2025-11', 'input-missing'],
    ['2025', 'input-missing'],
    ['2024', ['2024: leg length discrepancy -18 mm']],
    ['2026', 'absent'],
    [undefined, 'input-missing'],
  ])('measured on %s is told as %j', (date, expected) => {
    expect(stale(LENGTH, { measures: [leg(date)] })).toEqual(expected);
  });

  it('and was not recorded is neither old nor unknown', () => {
    expect(stale(LENGTH, {})).toBe('absent');
  });

  it('is told beside one whose age is not known', () => {
    const measures = [leg('2024-05-01'), native('global-offset-difference', 2, 'mm', undefined)];
    expect(stale(LENGTH, { measures })).toEqual(['1 May 2024: leg length discrepancy -18 mm']);
  });

  it('is the one that counts: an old value beside a new one is of no matter', () => {
    const older = { ...leg('2024-05-01'), id: 'older' };
    expect(stale(LENGTH, { measures: [older, leg('2026-10-01')] })).toBe('absent');
  });
});

describe('a plan does not age, nor does what is bone or implant', () => {
  it('so that neither is ever told as old', () => {
    const planned = measure('leg-length-change', quantity(4, 'mm'), { date: '2024-01-01' });
    const version = native('native-femoral-anteversion', 14, 'deg', '2015-01-01');
    for (const id of [LENGTH, POSTURE, 'stale-examination-measures'])
      expect(stale(id, { measures: [planned, version] })).toBe('absent');
  });
});

describe('what happened since makes a value old', () => {
  const fusion = (date: string | undefined): JsonObject => ({
    ...replacement('left', { performedDateTime: date }),
    id: `fused-${date ?? 'once'}`,
    code: snomed('50172003'),
    bodySite: [],
  });

  it('a lumbar fusion, for films of the spine; one before them, or of no date, does not', () => {
    const measures = [tilt('2026-09-01')];
    expect(stale(POSTURE, { measures, procedures: [fusion('2026-10-01')] })).toEqual([
      '1 Sep 2026, before lumbar fusion: pelvic tilt (APP) standing -14 deg',
    ]);
    expect(
      stale(POSTURE, { measures, procedures: [fusion('2024-01-01'), fusion('2026-10-01')] }),
    ).toHaveLength(1);
    expect(stale(POSTURE, { measures, procedures: [fusion('2024-01-01')] })).toBe('absent');
    expect(stale(POSTURE, { measures, procedures: [fusion(undefined)] })).toBe('absent');
    expect(
      stale(POSTURE, { measures, conditions: [condition('z98', 'Z98.1', { onsetDateTime: '2026-10-01' })] }),
    ).toBe('absent');
  });

  it('a replacement of either hip, total or partial, for the difference of the legs', () => {
    const measures = [leg('2026-09-01')];
    for (const side of ['left', 'right'] as const) {
      const done = replacement(side, { performedDateTime: '2026-10-01' });
      expect(stale(LENGTH, { measures, procedures: [done] })).toEqual([
        '1 Sep 2026, before a hip replacement: leg length discrepancy -18 mm',
      ]);
      expect(stale(LENGTH, { measures, procedures: [{ ...done, code: snomed('386649003') }] })).toHaveLength(
        1,
      );
      expect(stale(LENGTH, { measures, procedures: [replacement(side)] })).toBe('absent');
    }
  });
});

describe('a code that leaves a diagnosis open', () => {
  const open = (...conditions: readonly JsonObject[]): unknown =>
    stale('fusion-site-unclear', { conditions });
  const arthrodesis = condition('z98', 'Z98.1');

  it('is told, and no longer where the diagnosis itself is recorded', () => {
    // Truth: clinician: Z98.1 is fusion of any joint, never "lumbar fusion".
    expect(open(arthrodesis)).toEqual(['fusion of an unstated joint']);
    expect(open()).toBe('absent');
    expect(open(arthrodesis, condition('m43', 'M43.26'))).toBe('absent');
    const refuted = {
      verificationStatus: concept('http://terminology.hl7.org/CodeSystem/condition-ver-status', 'refuted'),
    };
    expect(open({ ...arthrodesis, ...refuted })).toBe('absent');
    expect(open({ ...arthrodesis, code: concept(ICD, 'M16.12') })).toBe('absent');
  });
});
