import { describe, expect, it } from 'vitest';
import { reductionFacts } from '../../src/engine/derive-reduction.js';
import type { Fact } from '../../src/facts/fact.js';
import { valueOf } from '../facts/charts.js';
import { absent, factMap, flag, number, recorded, unknown } from './facts.js';

/** Where the head lies after the last closed reduction, and whether a film of that day or later says so. */

const dated = (fact: Fact, date: string | undefined, lastDate?: string): Fact => ({
  ...fact,
  provenance: { from: [], ...(date !== undefined && { date }), ...(lastDate !== undefined && { lastDate }) },
});

const FILM = 'head-eccentric-after-reduction';
const film = (eccentric: boolean, date?: string): Fact => dated(flag(FILM, eccentric), date);
const replaced = (date: string, lastDate?: string): Fact =>
  dated(recorded('earlier-hip-replacement', 'replaced'), date, lastDate);
const reduced = (count: number, date?: string, lastDate?: string): Fact =>
  dated(number('reduced-dislocations', count, { unit: '1' }), date, lastDate);
const coded = (date?: string): Fact => dated(recorded('closed-reduction-of-prosthesis', 'reduced'), date);

function told(...facts: readonly Fact[]): readonly [unknown, unknown] {
  const [head, shown] = reductionFacts(factMap(...facts), 'in-place');
  return [valueOf(head), valueOf(shown)];
}

// Truth: clinician, clinical decisions §10 (5): the film after the reduction tells dissociation.
describe('the film after a closed reduction', () => {
  it('shows the head off center or centered', () => {
    const now = [replaced('2021-03-15'), reduced(1, '2026-11-23')];
    expect(told(film(true, '2026-11-23'), ...now)).toEqual([['eccentric'], ['read']]);
    expect(told(film(false, '2026-11-24'), ...now)).toEqual([['centered'], ['read']]);
    expect(told(film(true), ...now)).toEqual([['eccentric'], ['read']]);
  });

  it('tells nothing of today when it is older than the last reduction or the last operation', () => {
    const twice = [replaced('2021-03-15'), reduced(2, '2025-01-10', '2026-11-23')];
    expect(told(film(false, '2025-01-10'), ...twice)).toEqual(['stale', ['not-read']]);
    const revised = [replaced('2021-03-15', '2025-06-01'), reduced(1, '2025-01-10')];
    expect(told(film(true, '2025-01-10'), ...revised)).toEqual(['stale', ['none']]);
  });

  it('is missing where a reduction of what is in place is on record without it', () => {
    const none = unknown(FILM);
    expect(told(none, replaced('2021-03-15'), reduced(1, '2026-11-23'))).toEqual([
      'not-recorded',
      ['not-read'],
    ]);
    expect(told(none, replaced('2021-03-15', '2026-12-01'), reduced(1, '2026-11-23'))).toEqual([
      'not-recorded',
      ['none'],
    ]);
    expect(told(none, replaced('2021-03-15'), reduced(0), absent('closed-reduction-of-prosthesis'))).toEqual([
      'not-recorded',
      ['none'],
    ]);
  });

  it('is asked for after a reduction without a date only where no operation could lie in between', () => {
    const none = unknown(FILM);
    expect(told(none, absent('earlier-hip-replacement'), reduced(0), coded())).toEqual([
      'not-recorded',
      ['not-read'],
    ]);
    expect(told(none, replaced('2021-03-15'), reduced(0), coded())).toEqual([
      'not-recorded',
      'input-missing',
    ]);
    expect(told(none, absent('earlier-hip-replacement'), reduced(0), coded('2026-11-23'))).toEqual([
      'not-recorded',
      ['not-read'],
    ]);
  });

  it('stays open where the procedures were not read, and keeps the reason of a film that was refused', () => {
    const unread = unknown('reduced-dislocations', 'set-not-read');
    expect(told(unknown(FILM, 'conflicting'), unread)).toEqual(['conflicting', 'set-not-read']);
    expect(told(unknown(FILM, 'set-not-read'), reduced(0))).toEqual(['not-recorded', ['none']]);
  });

  it('is no matter of a plan', () => {
    const [head, shown] = reductionFacts(factMap(film(true), reduced(1, '2026-11-23')), 'planned');
    expect([head?.state.status, shown?.state.status]).toEqual(['absent', 'absent']);
  });

  it('needs the reading itself, whatever keeps it unknown', () => {
    const [head] = reductionFacts(factMap(film(false, '2020-01-01'), reduced(1, '2026-11-23')), 'in-place');
    expect(head?.state).toEqual({ status: 'unknown', reason: 'stale', needs: [FILM] });
  });

  it('dates itself by the last reduction', () => {
    const [, shown] = reductionFacts(
      factMap(unknown(FILM), reduced(2, '2025-01-10', '2026-11-23')),
      'in-place',
    );
    expect(shown?.provenance.date).toBe('2026-11-23');
  });
});
