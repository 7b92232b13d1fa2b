import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, condition, measure, order, quantity, snomed } from '../facts/records.js';
import type { SignedCase } from '../render/cards.js';
import { evidenceParameters, recordNamed } from '../rulebook/evidence.js';
import { mm, plan, told } from './signed.js';
import type { Told } from './signed.js';

/** Heads, necks, liners and bearings: what each rule says, wherever it says it. */

const RAD = Math.PI / 180;
/** Sariali 2009 (10.3109/17453670902988378): 2R sin((90 - planar inclination) / 2), head center in the opening plane. */
const jump = (head: number, inclination: number): number => head * Math.sin(((90 - inclination) / 2) * RAD);
const shown = (value: number, decimals = 1): string => value.toFixed(decimals);

const head = (value: number): JsonObject => mm('head-diameter', value);
const neck = (value: number): JsonObject => mm('neck-diameter', value);
const bearing = (code: string): JsonObject => measure('bearing-couple', coded(code));
const skirt = (value: boolean): JsonObject => measure('skirted-head', { valueBoolean: value });
const grade = (value: number): JsonObject =>
  measure('abductor-strength', { valueInteger: value }, { stages: ['native'] });
const cupAt = (inclination: number): JsonObject => measure('cup-inclination', quantity(inclination, 'deg'));
const parkinson = condition('c', 'G20.A1');
const dislocated = condition('d', snomed('12077001000119100'));

describe('a head below 32 mm in a hip at risk', () => {
  const asked = (given: SignedCase): Promise<Told> => told('small-head-with-trigger', given);

  it('shows jump distances of larger heads as the closed form has them', async () => {
    // Truth: closed form of Sariali 2009; a millimeter of head adds about 0.4 mm at 45 degrees (record of its slopes).
    const { lines, place } = await asked({
      measures: [head(28), neck(11), ...plan(40, 20, 15)],
      conditions: [parkinson],
    });
    expect(place).toBe('card');
    expect([jump(28, 40), jump(32, 40), jump(36, 40)].map((each) => shown(each))).toEqual([
      '11.8',
      '13.5',
      '15.2',
    ]);
    expect(lines[0]).toContain('jump distance 11.8 mm at 40° (model)');
    expect(lines[1]).toContain('larger head: 32 mm → jump 13.5 mm, 36 mm → 15.2 mm');
    const { at45deg } = recordNamed('jump-distance-diameter-sensitivity')['value'] as {
      readonly at45deg: number;
    };
    expect(Math.abs((jump(36, 45) - jump(32, 45)) / 4 - at45deg)).toBeLessThan(0.02);
  });

  it('leaves the word to the card on the ratio where that one speaks', async () => {
    // Truth: clinical decisions §1: as few cards as say it.
    const measures = (of: number): readonly JsonObject[] => [head(28), neck(of), ...plan(40, 20, 15)];
    const wide = await asked({ measures: measures(12), conditions: [parkinson] });
    expect(wide.outcome).toBe('fires');
    expect(wide.place).toBe('elsewhere');
    expect(wide.cards).toContain('head-neck-ratio-low-with-trigger');
    expect((await asked({ measures: measures(11), conditions: [parkinson] })).cards).not.toContain(
      'head-neck-ratio-low-with-trigger',
    );
  });

  it('lists effects by approach and what speaks against them', async () => {
    // Truth: published, parameters head-diameter-small-effect and head-size-revision-rate-register, record of the null.
    const { card } = await asked({
      measures: [head(28), neck(11), ...plan(40, 20, 15)],
      conditions: [parkinson],
    });
    const detail = card?.detail ?? '';
    expect(evidenceParameters.get('head-diameter-small-effect')?.value).toEqual({
      posterior: { hr: 1.34, ci95: [1.19, 1.51] },
      lateral: { hr: 1.72, ci95: [1.43, 2.07] },
    });
    expect(detail).toContain('HR 1.72 (95 % CI 1.43–2.07) by a lateral');
    expect(detail).toContain('1.34 (95 % CI 1.19–1.51) by a posterior approach');
    expect(detail).toContain('1.4 % (95 % CI 1.3–1.5) revised for dislocation with 22–28 mm');
    expect(recordNamed('hailer2012-head-null-28-36').claim).toMatch(/no difference/);
    expect(detail).toContain('against it: no difference among 28, 32 and 36 mm in a Swedish register');
    expect(detail.indexOf('1.72')).toBeLessThan(detail.indexOf('0.64'));
  });

  it('offers no larger head as a remedy where abductors are lost', async () => {
    // Truth: published, record kung2007-abductor-head: 40.0 % with 28 mm, 33.3 % with 36 mm; clinical decisions §6.
    const { lines, card } = await asked({ measures: [head(28), neck(11), grade(2), ...plan(40, 20, 15)] });
    expect(lines[1]).toContain('larger head, which did not make up for absent abductors');
    expect(lines[1]).toContain('dual mobility, at the price below');
    expect(lines[1]).not.toContain('→');
    expect(card?.detail).toMatch(/40 % \(28 mm\) and 33\.3 % \(36 mm\) dislocated/);
    expect(card?.detail).toMatch(/revision for infection HR 3\.2 \(95 % CI 1\.49–6\.85\)/);
  });
});

describe('a large head in a steep cup', () => {
  const asked = (of: number, inclination: number, more: SignedCase = {}): Promise<Told> =>
    told('large-head-on-steep-cup', {
      ...more,
      measures: [head(of), neck(12), ...plan(inclination, 15, 15)],
    });

  it('is told on the page only, with what a millimeter of head adds', async () => {
    // Truth: closed form: sin((90 - inclination) / 2) a millimeter; published about 0.25 at 60 degrees.
    const { place, lines, card } = await asked(36, 60);
    expect(place).toBe('page');
    expect([Math.sin(15 * RAD), Math.sin(25 * RAD)].map((each) => shown(each, 2))).toEqual(['0.26', '0.42']);
    expect(card?.summary).toContain('36 mm head in a cup at 60°: 0.26 mm of jump per mm, 0.42 mm at 40°');
    expect(lines[0]).toContain(
      `jump distance ${shown(jump(36, 60))} mm, ${shown(jump(36, 40))} mm at 40°; a 22 mm head at 40° has 9.3 mm`,
    );
    expect(jump(22, 40)).toBeCloseTo(jump(36, 60), 1);
    const { at60deg } = recordNamed('jump-distance-diameter-sensitivity')['value'] as {
      readonly at60deg: number;
    };
    expect(Math.abs(Math.sin(15 * RAD) - at60deg)).toBeLessThan(0.01);
  });

  it('puts the flatter cup before the larger head', async () => {
    // Truth: clinical decisions §6: steep cup: lower inclination before a larger head, planned stage only.
    const { lines } = await asked(40, 56);
    const options = lines[1] ?? '';
    expect(options.indexOf('40° →')).toBeGreaterThan(0);
    expect(options.indexOf('larger head')).toBeGreaterThan(options.indexOf('40° →'));
  });

  it.each([
    [36, 50, 'does-not-fire'],
    [36, 50.1, 'fires'],
    [35.9, 60, 'does-not-fire'],
  ])('a %d mm head at %d°: %s', async (of, inclination, outcome) => {
    // Truth: published, parameters head-diameter-plateau 36 and cup-inclination-steep-with-large-head 50.
    expect((await asked(of, inclination)).outcome).toBe(outcome);
  });
});

describe('a small head in a large cup', () => {
  it('is told once, marked by how little is known', async () => {
    // Truth: published at second hand, record chapter-dislocation-implant: 62 mm or more with 22-28 mm heads.
    expect(recordNamed('chapter-dislocation-implant').verified).toBe('secondary source');
    const measures = [head(28), neck(11), mm('cup-outer-diameter', 62), ...plan(40, 20, 15)];
    const alone = await told('small-head-in-large-cup', { measures });
    expect(alone.place).toBe('card');
    expect(alone.lines[2]).toMatch(/very low, a list without figures read at second hand/);
    const withRisk = await told('small-head-in-large-cup', { measures, conditions: [parkinson] });
    expect(withRisk.place).toBe('elsewhere');
    expect(withRisk.cards).toContain('small-head-with-trigger');
    const wide = [head(28), neck(12), mm('cup-outer-diameter', 62), ...plan(40, 20, 15)];
    const both = await told('small-head-in-large-cup', { measures: wide, conditions: [parkinson] });
    expect(both.place).toBe('elsewhere');
    expect(both.cards.filter((rule) => /head/.test(rule))).toEqual(['head-neck-ratio-low-with-trigger']);
  });
});

describe('a liner left thin', () => {
  const asked = (thickness: number, inclination = 40): Promise<Told> =>
    told('liner-thin', {
      measures: [
        head(36),
        mm('liner-thickness', thickness),
        bearing('ceramic-on-crosslinked-polyethylene'),
        ...plan(inclination, 20, 15),
      ],
    });

  it('says that its limit is common practice and what a smaller head costs', async () => {
    // Truth: published, parameter liner-thickness-minimum (no paper states one); closed form sin((90 - inclination) / 2).
    const { lines, card } = await asked(3.9);
    expect(lines[0]).toContain('limit 4 mm: common practice, no source; the maker’s limit rules');
    expect(lines[1]).toContain('each mm less costs 0.42 mm of jump distance at 40°');
    expect((await asked(3.9, 50)).lines[1]).toContain(
      `each mm less costs ${shown(Math.sin(20 * RAD), 2)} mm of jump distance at 50°`,
    );
    expect(card?.detail).toMatch(/0 of 55 hips revised for the liner; 94\.5 % \(95 % CI 81\.7–97\.2\)/);
    expect(card?.detail).toMatch(/against it: four cross-linked liners of two patients cracked/);
    expect(card?.indicator).toBe('info');
  });

  it.each([
    [4, 'does-not-fire'],
    [3.9, 'fires'],
  ])('of %d mm: %s', async (thickness, outcome) => {
    expect((await asked(thickness)).outcome).toBe(outcome);
  });
});

describe('a large metal head on a taper', () => {
  it('shows that sources disagree, and what a 36 mm head would leave', async () => {
    // Truth: published, records head-size-taper-review-2020 and head-size-taper-retrieval-mop-2016; closed form.
    const { lines, card } = await told('large-metal-head', {
      measures: [head(40), bearing('metal-on-crosslinked-polyethylene'), ...plan(40, 20, 15)],
    });
    expect([jump(40, 40), jump(36, 40)].map((each) => shown(each))).toEqual(['16.9', '15.2']);
    expect(lines[0]).toContain('jump distance 16.9 mm at 40° (model)');
    expect(lines[0]).toMatch(
      /common practice, no source; reviews blame the diameter, 154 retrievals show no effect/,
    );
    expect(lines[1]).toContain('36 mm head, where stability allows → 15.2 mm');
    expect(card?.detail).toMatch(/did not depend on head size \(p 0\.247 to 0\.868\)/);
  });

  it.each(['ceramic-on-ceramic', 'ceramic-on-crosslinked-polyethylene'])(
    'is none with %s',
    async (couple) => {
      const { outcome } = await told('large-metal-head', { measures: [head(40), bearing(couple)] });
      expect(outcome).toBe('does-not-fire');
    },
  );
});

describe('bearing and inclination', () => {
  it.each([
    ['metal-on-conventional-polyethylene', 'conventional-polyethylene-steep', 45, 45.1],
    ['ceramic-on-conventional-polyethylene', 'conventional-polyethylene-steep', 45, 45.1],
    ['metal-on-metal', 'metal-on-metal-steep', 55, 55.1],
  ])('%s is told by %s on the page only, above %d°', async (couple, rule, at, above) => {
    // Truth: published, parameters cup-inclination-preferred-upper 45 and cup-inclination-metal-on-metal-limit 55.
    const measures = (inclination: number): readonly JsonObject[] => [bearing(couple), cupAt(inclination)];
    expect((await told(rule, { measures: measures(at) })).outcome).toBe('does-not-fire');
    const steep = await told(rule, { measures: measures(above) });
    expect([steep.outcome, steep.place]).toEqual(['fires', 'page']);
  });

  it('is silent for cross-linked polyethylene, in which no effect was seen', async () => {
    // Truth: published, record xlpe-ceramic-10-year-2023.
    expect(recordNamed('xlpe-ceramic-10-year-2023').claim).toMatch(
      /inclination and anteversion did not matter/,
    );
    const { outcome } = await told('conventional-polyethylene-steep', {
      measures: [bearing('ceramic-on-crosslinked-polyethylene'), cupAt(58)],
    });
    expect(outcome).toBe('does-not-fire');
  });
});

describe('a skirted head', () => {
  const asked = (given: SignedCase): Promise<Told> => told('skirted-long-neck', given);

  it('is judged by the skirt where its diameter is known', async () => {
    // Truth: closed form: 28 / 16 = 1.75; the preferred ratio is 1/cos 65 degrees.
    const { card, lines } = await asked({
      measures: [skirt(true), head(28), neck(12), mm('skirt-diameter', 16)],
    });
    expect([28 / 16, 28 / 12].map((each) => shown(each, 2))).toEqual(['1.75', '2.33']);
    expect(card?.summary).toContain('skirt of 16 mm: head-neck ratio 1.75, 2.33 without it; preferred 2.37');
    expect(lines[2]).toMatch(/cadavers and a textbook list, no figures/);
    expect(card?.detail).not.toMatch(/HR|OR \d|RR/);
  });

  it('offers a shorter neck only where length can be given up', async () => {
    // Truth: clinical decisions §6: high-offset stem with a shorter neck only if the length can be given up.
    const legs = (before: number, change: number): readonly JsonObject[] => [
      skirt(true),
      mm('leg-length-discrepancy', before, 'native'),
      mm('leg-length-change', change),
    ];
    const short = (await asked({ measures: legs(-12, 8) })).lines[1] ?? '';
    expect(short).toContain('no length to give up');
    expect(short).not.toContain('high-offset');
    for (const measures of [legs(0, 6), [skirt(true)]])
      expect((await asked({ measures })).lines[1]).toMatch(
        /high-offset stem with a shorter neck, only if the length can be given up · else higher seating or a larger stem/,
      );
  });

  it('with the stem that stays offers nothing that needs another stem', async () => {
    // Truth: clinical decisions §2: a component that is not exchanged stays as it is.
    const { lines } = await asked({
      measures: [skirt(true), measure('component-retained', coded('stem'))],
      orders: [order({ code: snomed('112727005') })],
    });
    expect(lines[1]).not.toMatch(/high-offset|seating|larger stem/);
  });
});

describe('what these rules offer', () => {
  const RULES = [
    'skirted-long-neck',
    'small-head-with-trigger',
    'large-head-on-steep-cup',
    'small-head-in-large-cup',
    'liner-thin',
    'large-metal-head',
    'conventional-polyethylene-steep',
    'metal-on-metal-steep',
  ];
  const everything: readonly JsonObject[] = [
    skirt(true),
    mm('cup-outer-diameter', 64),
    mm('liner-thickness', 3),
    ...plan(60, 20, 15),
  ];
  const hips = [26, 40].flatMap((of) =>
    ['metal-on-conventional-polyethylene', 'metal-on-metal'].map((couple) => ({
      of,
      couple,
      measures: [...everything, head(of), bearing(couple)],
    })),
  );

  it.each(hips)(
    'in an unstable hip of unknown direction puts infection first and turns no cup ($of mm, $couple)',
    async ({ measures }) => {
      // Truth: clinical decisions §6: infection markers before mechanics; no orientation option without a direction.
      const spoken = new Set<string>();
      for (const rule of RULES) {
        const { outcome, lines } = await told(rule, { measures, conditions: [dislocated] });
        if (outcome !== 'fires') continue;
        spoken.add(rule);
        expect(lines[1], rule).toMatch(/^Options no change · infection markers before mechanics/);
        expect(lines[1], rule).not.toMatch(/flatter|steeper|cup revision|anteversion|\d° →|smaller head/);
      }
      expect(spoken.size).toBeGreaterThan(2);
    },
  );

  it.each(hips)('keeps the plan first ($of mm, $couple)', async ({ measures }) => {
    // Truth: clinical decisions §2: "no change" is an option on planning cards.
    for (const rule of RULES) {
      const { outcome, lines } = await told(rule, { measures });
      if (outcome === 'fires') expect(lines[1], rule).toMatch(/^Options no change · /);
    }
  });
});
