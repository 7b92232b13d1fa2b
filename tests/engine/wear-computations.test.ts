import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { deriveFacts } from '../../src/engine/derive.js';
import type { Fact } from '../../src/facts/fact.js';
import { expectWithin } from '../biomechanics/tolerance.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { intervalOf } from '../facts/records.js';
import { evidenceParameters } from '../rulebook/evidence.js';
import { shipped } from '../rulebook/shipped.js';
import { computed, computedOf, needsOf, shown } from './computed-records.js';
import { absent, code, factMap, number, recorded, unknown } from './facts.js';

/** What a head that has sunk into its liner has worn away, and what a wear rate comes to. */

const TOTAL = 'head-penetration-total';
const VOLUME = 'wear-volume';
const ARC = 'arc-lost-to-wear';
const HIP = { 'head-diameter': 28, 'neck-diameter': 12 };

describe('a worn liner', () => {
  const { inputs, expected, label } = workedExample('wear', 'wear-volume-cylinder', {
    inputs: z.object({ headDiameterMm: z.array(z.number()), linearMmPerYear: z.number() }),
    expected: z.object({ volumeMm3PerYear: z.array(z.number()) }),
  });

  it.each(
    inputs.headDiameterMm.map((head, index) => [head, expected.volumeMm3PerYear[index] ?? NaN] as const),
  )(`about a head of %d mm has lost at most the tabled volume (${label})`, (head, volume) => {
    const hip = { 'head-diameter': head, 'head-penetration': inputs.linearMmPerYear };
    // Told in whole cubic millimetres; the table has tenths.
    expectWithin(shown(VOLUME, hip, 'in-place'), volume, 0.6);
  });

  it('has lost 15.7 degrees of arc with 2 mm of wear along the axis of its cup', () => {
    // Truth: closed form: 2 acos(12/28) - 2 (atan(14/2) - asin(6 / hypot(14, 2))).
    const degrees = 180 / Math.PI;
    const before = Math.acos(12 / 28);
    const after = Math.atan2(14, 2) - Math.asin(6 / Math.hypot(14, 2));
    const hip = { ...HIP, 'head-penetration': 2 };
    expectWithin(shown(ARC, hip, 'in-place'), 2 * (before - after) * degrees, 1e-6);
  });

  it('never has more of anything because the penetration grew: volume and arc lost only grow', () => {
    // Truth: the project's design: no output anywhere improves because head-penetration grew.
    const steps = Array.from({ length: 40 }, (_, index) => index * 0.25);
    for (const id of [VOLUME, ARC]) {
      const lost = steps.map((penetration) =>
        shown(id, { ...HIP, 'head-penetration': penetration }, 'in-place'),
      );
      expect(lost[0]).toBe(0);
      for (const [index, one] of lost.entries())
        if (index > 0) expect(one).toBeGreaterThanOrEqual(lost[index - 1] ?? NaN);
    }
  });

  it('that was not measured has neither, nor one that was read as worn', () => {
    for (const id of [VOLUME, ARC]) {
      expect(needsOf(computed(id, HIP, 'in-place'))).toContain('head-penetration');
      const read = computed(id, { ...HIP, 'wear-pattern': 'eccentric' }, 'in-place');
      expect(read.shown).toBeUndefined();
      expect(needsOf(read)).toContain('head-penetration');
    }
  });

  it('that is exchanged has lost nothing', () => {
    for (const id of [VOLUME, ARC]) expect(shown(id, { ...HIP, 'head-penetration': 2 })).toBe(0);
  });

  it('between two bearings is nobody’s: nothing is told', () => {
    const hip = { ...HIP, 'mobile-liner-diameter': 42, 'head-penetration': 2 };
    for (const id of [VOLUME, ARC]) {
      const found = computed(id, hip, 'in-place');
      expect(found.shown).toBeUndefined();
      expect(needsOf(found)).toContain('mobile-liner-diameter');
    }
  });

  it('into which the head has sunk past its own middle, or whose neck is no thinner than its head, breaks nothing', () => {
    expect(computed(ARC, { ...HIP, 'head-penetration': 20 }, 'in-place').shown).toBeUndefined();
    const thick = { 'head-diameter': 22, 'neck-diameter': 22, 'head-penetration': 1 };
    expect(computed(ARC, thick, 'in-place').shown).toBeUndefined();
  });

  it('of an unknown neck is shown with the usual one, and decides nothing by it', () => {
    const found = computed(ARC, { 'head-diameter': 28, 'head-penetration': 2 }, 'in-place');
    expect(found.shown).toBeGreaterThan(0);
    expect(needsOf(found)).toEqual(['neck-diameter']);
  });
});

const RATE = number('head-penetration-rate', 0.12, {
  unit: 'mm/a',
  error: 0,
  provenance: { from: ['Observation/rate'], date: '2026-03-01' },
});

function replaced(date?: string, from: readonly string[] = ['Procedure/first']): Fact {
  return {
    ...recorded('earlier-hip-replacement', 'replaced'),
    provenance: { from, ...(date !== undefined && { date }) },
  };
}

function hipWith(...facts: readonly Fact[]): ReadonlyMap<string, Fact> {
  const usual = [RATE, replaced('2016-03-01'), absent('earlier-hip-revision')];
  return deriveFacts(factMap(...usual, ...facts), 'in-place', shipped.knowledge);
}

describe('the total that a rate comes to', () => {
  const course = z.object({ beddingMm: z.number(), rateMmPerYear: z.number() });
  const { inputs, expected, label } = workedExample('wear', 'wear-total-penetration-10y', {
    inputs: z.object({ tYears: z.number(), conventional: course, xlpe: course }),
    expected: z.object({ conventionalMm: z.number(), xlpeMm: z.number() }),
  });

  it(`after ten years is the tabled one for both kinds of polyethylene (${label})`, () => {
    // Tolerance of the record: 0.02 mm.
    const total = (rate: number, bearing: string): number =>
      computedOf(
        TOTAL,
        hipWith(
          { ...RATE, ...number(RATE.id, rate), provenance: RATE.provenance },
          code('bearing-couple', bearing),
        ),
      ).shown ?? NaN;
    expect(inputs.tYears).toBe(10);
    const { conventional, xlpe } = inputs;
    const metalOn = (kind: string): string => `metal-on-${kind}-polyethylene`;
    expectWithin(total(conventional.rateMmPerYear, metalOn('conventional')), expected.conventionalMm, 0.02);
    expectWithin(total(xlpe.rateMmPerYear, metalOn('crosslinked')), expected.xlpeMm, 0.02);
  });

  it('has the bedding-in of the dossier', () => {
    const value = (id: string): unknown => shipped.parameters.get(id)?.value;
    expect(evidenceParameters.get('wear-bedding-in')?.value).toEqual({
      conventionalMm: value('wear-bedding-in-conventional'),
      xlpeMm: value('wear-bedding-in-crosslinked'),
    });
  });

  it('of a bearing not stated is shown as conventional polyethylene and said so, and decides nothing', () => {
    const found = computedOf(TOTAL, hipWith(unknown('bearing-couple')));
    expectWithin(found.shown ?? NaN, 1.56, 0.02);
    expect(found.assumptions).toEqual(['bedding-in of conventional polyethylene, bearing not stated']);
    expect(needsOf(found)).toEqual(['bearing-couple']);
  });

  it('of a bearing without polyethylene is not told', () => {
    const found = computedOf(TOTAL, hipWith(code('bearing-couple', 'ceramic-on-ceramic')));
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toContain('bearing-couple');
  });

  it('only grows with the rate and with the years', () => {
    const bearing = code('bearing-couple', 'ceramic-on-crosslinked-polyethylene');
    const at = (date: string, rate: number): number =>
      computedOf(
        TOTAL,
        hipWith({ ...RATE, ...number(RATE.id, rate), provenance: RATE.provenance }, replaced(date), bearing),
      ).shown ?? NaN;
    expect(at('2010-03-01', 0.1)).toBeGreaterThan(at('2016-03-01', 0.1));
    expect(at('2016-03-01', 0.2)).toBeGreaterThan(at('2016-03-01', 0.1));
  });
});

describe('the years of a liner', () => {
  const years = (facts: ReadonlyMap<string, Fact>): Fact =>
    facts.get('liner-years-in-place') ?? unknown('liner-years-in-place');

  it('run from the replacement to the film on which the rate was read', () => {
    expect(intervalOf(years(hipWith()))).toEqual([10, 10]);
  });

  it('lie between bounds where the replacement is dated by its year', () => {
    const [low, high] = intervalOf(years(hipWith(replaced('2016')))) ?? [NaN, NaN];
    expect(low).toBeLessThan(9.2);
    expect(high).toBeGreaterThan(10.1);
    const found = computedOf(
      TOTAL,
      hipWith(replaced('2016'), code('bearing-couple', 'metal-on-crosslinked-polyethylene')),
    );
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toEqual(['earlier-hip-replacement']);
  });

  it.each([
    ['a revision is on record', [recorded('earlier-hip-revision', 'revised')], 'earlier-hip-revision'],
    ['revisions were not read', [unknown('earlier-hip-revision', 'set-not-read')], 'earlier-hip-revision'],
    ['the replacement has no date', [replaced()], 'earlier-hip-replacement'],
    [
      'two operations are on record',
      [replaced('2016-03-01', ['Procedure/a', 'Procedure/b'])],
      'earlier-hip-replacement',
    ],
    ['the film is older than the replacement', [replaced('2026-09-01')], 'earlier-hip-replacement'],
    ['no rate was read', [unknown('head-penetration-rate')], 'head-penetration-rate'],
  ])('are not known where %s', (_why, facts, needed) => {
    expect(years(hipWith(...facts)).state).toMatchObject({ status: 'unknown', needs: [needed] });
  });

  it('are not told of a liner that comes new, and are of one that stays', () => {
    const facts = [RATE, replaced('2016-03-01'), absent('earlier-hip-revision')];
    const planned = (...more: readonly Fact[]): Fact =>
      years(deriveFacts(factMap(...facts, ...more), 'planned', shipped.knowledge));
    expect(planned().state.status).toBe('unknown');
    expect(intervalOf(planned(code('component-retained', 'liner', 'cup')))).toEqual([10, 10]);
  });

  it('too few for bedding-in to be over give no total', () => {
    const found = computedOf(
      TOTAL,
      hipWith(replaced('2026-02-01'), code('bearing-couple', 'metal-on-crosslinked-polyethylene')),
    );
    expect(found.shown).toBeUndefined();
  });
});
