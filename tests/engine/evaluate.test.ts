import { describe, expect, it } from 'vitest';
import { COMPUTATIONS } from '../../src/engine/computations.js';
import type { ComputationTable } from '../../src/engine/computation.js';
import { evaluate } from '../../src/engine/evaluate.js';
import type { EngineOutput } from '../../src/engine/evaluate.js';
import { jsonRulesDecide } from '../../src/engine/json-rules-decide.js';
import type { ConstructKind } from '../../src/facts/definitions.js';
import type { Condition, Rulebook } from '../../src/rulebook/types.js';
import type { JsonObject } from '../../src/fhir/json.js';
import type { Case, MeasureOptions } from '../facts/records.js';
import { CODE, coded, condition, measure, order, quantity, read, snomed } from '../facts/records.js';
import { shipped } from '../rulebook/shipped.js';
import { has, leaf } from './facts.js';

interface Setting {
  readonly rulebook?: Rulebook;
  readonly table?: ComputationTable;
  readonly entry?: 'order-sign' | 'appointment-book';
}

async function run(
  given: Case,
  { rulebook = shipped, table = COMPUTATIONS, entry = 'order-sign' }: Setting = {},
): Promise<EngineOutput> {
  return evaluate({
    record: read(given),
    rulebook,
    entry,
    decide: jsonRulesDecide(rulebook.rules),
    computations: table,
  });
}

/** The outcome of every rule, by hip and rule. */
function outcomes(output: EngineOutput): Readonly<Record<string, string>> {
  return Object.fromEntries(
    output.hips.flatMap((hip) =>
      hip.advisories.map((advisory) => [
        `${hip.hip} ${advisory.rule}`,
        advisory.broken ? 'broken' : advisory.outcome,
      ]),
    ),
  );
}

function advisory(output: EngineOutput, rule: string): EngineOutput['hips'][number]['advisories'][number] {
  const found = output.hips.flatMap(({ advisories }) => advisories).find((one) => one.rule === rule);
  if (!found) throw new Error(`no advisory ${rule}`);
  return found;
}

const plan = (
  inclination: number,
  anteversion: number,
  options: MeasureOptions = {},
): readonly JsonObject[] => [
  measure('cup-inclination', quantity(inclination, 'deg'), options),
  measure('cup-anteversion', quantity(anteversion, 'deg'), options),
  measure('head-diameter', quantity(36, 'mm')),
  measure('neck-diameter', quantity(12, 'mm')),
  measure('stem-anteversion', quantity(15, 'deg')),
];
const steep: Case = { measures: plan(60, 15) };
const STEEP = 'cup-inclination-outside-published';
/** Shows the same distance of the same cup. */
const LARGE_HEAD = 'large-head-on-steep-cup';

describe('an evaluation', () => {
  it('gives every rule exactly one outcome on every hip', async () => {
    // Truth: the project's design: fires, does not fire, cannot tell, not applicable.
    const both = {
      orders: [order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] })],
      measures: plan(60, 15),
    };
    for (const given of [{}, steep, both]) {
      const output = await run(given);
      for (const hip of output.hips)
        expect(hip.advisories.map(({ rule }) => rule)).toEqual(shipped.rules.map(({ id }) => id));
      for (const outcome of Object.values(outcomes(output)))
        expect(outcome).toMatch(/^(fires|does-not-fire|cannot-tell|not-applicable)$/);
      expect(output.faults).toEqual([]);
    }
  });

  it('speaks of the hip that has the plan and cannot tell of the other one', async () => {
    // Truth: the project's design: per hip and construct.
    const output = outcomes(
      await run({
        orders: [order({ bodySite: [snomed(CODE.leftHipSite), snomed(CODE.rightHipSite)] })],
        measures: plan(60, 15),
      }),
    );
    expect(output[`left ${STEEP}`]).toBe('fires');
    expect(output[`right ${STEEP}`]).toBe('cannot-tell');
  });

  it.each([
    // Truth: clinical decisions §3: union RI 30–58, edges inside; above 50 up to 58 is a rule of its own.
    [29.9, 'fires', 'does-not-fire'],
    [30, 'does-not-fire', 'does-not-fire'],
    [50, 'does-not-fire', 'does-not-fire'],
    [50.1, 'does-not-fire', 'fires'],
    [58, 'does-not-fire', 'fires'],
    [58.1, 'fires', 'does-not-fire'],
  ])(
    'of a planned inclination of %d: outside every range %s, above the classical one %s',
    async (value, outside, above) => {
      const found = outcomes(await run({ measures: plan(value, 15) }));
      expect([found[`left ${STEEP}`], found['left cup-inclination-above-classical']]).toEqual([
        outside,
        above,
      ]);
    },
  );

  it.each([
    // Truth: clinical decisions §3: union RA 5–34, edges inside; confirmed retroversion is its own warning.
    [4.9, 'fires', 'does-not-fire'],
    [5, 'does-not-fire', 'does-not-fire'],
    [0, 'fires', 'does-not-fire'],
    [-0.1, 'does-not-fire', 'fires'],
    [34, 'does-not-fire', 'does-not-fire'],
    [34.1, 'fires', 'does-not-fire'],
  ])(
    'of a planned anteversion of %d: outside every range %s, retroverted %s',
    async (value, outside, retroverted) => {
      const found = outcomes(await run({ measures: plan(40, value) }));
      expect([
        found['left cup-anteversion-outside-published'],
        found['left cup-retroversion-confirmed'],
      ]).toEqual([outside, retroverted]);
    },
  );

  it('of a measured cup needs more than the measuring error, and of an estimate never tells', async () => {
    // Truth: clinical decisions §3: AP film ± 2 degrees of inclination; an estimate never fires a warning.
    const placed = async (value: number, method: string): Promise<string | undefined> => {
      const measures = plan(value, 15, {
        stages: ['postoperative'],
        with: { method, 'angle-definition': 'radiographic' },
      });
      return outcomes(await run({ measures, construct: 'in-place' }))[`left ${STEEP}`];
    };
    expect(await placed(60, 'ap-film')).toBe('does-not-fire');
    expect(await placed(60.1, 'ap-film')).toBe('fires');
    expect(await placed(60.1, 'ct')).toBe('fires');
    expect(await placed(80, 'estimate')).toBe('cannot-tell');
  });

  it('of an AP film cannot tell retroversion, and asks for the anteversion again', async () => {
    // Truth: clinical decisions §4: "retroverted" is then cannot tell and asks for cross-table lateral or CT.
    const on = async (method: string): Promise<EngineOutput> => {
      const measures = plan(40, -12, {
        stages: ['postoperative'],
        with: { method, 'angle-definition': 'radiographic' },
      });
      return run({ measures, construct: 'in-place' });
    };
    const film = advisory(await on('ap-film'), 'cup-retroversion-confirmed');
    expect([film.outcome, film.needs]).toEqual(['cannot-tell', ['cup-anteversion']]);
    expect(advisory(await on('ct'), 'cup-retroversion-confirmed').outcome).toBe('fires');
  });

  it('is not applicable for another hip operation, whatever else is on record', async () => {
    // Truth: integration decisions §1: other hip operations are recognised, all rules not applicable, no card.
    const given = {
      ...steep,
      orders: [order({ code: snomed('386649003') })],
      conditions: [condition('c', 'G20.A1')],
    };
    expect(new Set(Object.values(outcomes(await run(given))))).toEqual(new Set(['not-applicable']));
  });

  it('of a comparator tells only what every value within it would', async () => {
    // Truth: the project's design, intervals.
    const at = async (comparator: string, value: number): Promise<string | undefined> =>
      outcomes(await run({ measures: [measure('cup-inclination', quantity(value, 'deg', { comparator }))] }))[
        `left ${STEEP}`
      ];
    expect(await at('>', 59)).toBe('fires');
    expect(await at('<', 29)).toBe('fires');
    expect(await at('>', 40)).toBe('cannot-tell');
    expect(await at('<', 50)).toBe('cannot-tell');
  });

  it('of a range that reaches beyond any cup, in a definition of its own, still has one outcome for every rule', async () => {
    // Truth: style of the project, §9: outside data out of range leads to "cannot tell", never to an exception.
    const range = {
      valueRange: { low: quantity(40, 'deg')['valueQuantity'], high: quantity(200, 'deg')['valueQuantity'] },
    };
    const operative = { with: { 'angle-definition': 'operative' } };
    const measures = [
      measure('cup-inclination', range, operative),
      measure('cup-anteversion', quantity(15, 'deg'), operative),
    ];
    const output = await run({ measures });
    expect(output.hips[0]?.advisories.length).toBe(shipped.rules.length);
    expect(outcomes(output)[`left ${STEEP}`]).toBe('cannot-tell');
  });

  it('names the measure that would settle what it cannot tell', async () => {
    // Truth: the project's design, needs.
    const output = await run({ conditions: [condition('c', 'G20.A1')] });
    expect(advisory(output, STEEP).needs).toEqual(['cup-inclination']);
    expect(advisory(output, 'head-neck-ratio-low-with-trigger').needs).toEqual([
      'head-diameter',
      'neck-diameter',
    ]);
    const head = {
      conditions: [condition('c', 'G20.A1')],
      measures: [measure('head-diameter', quantity(36, 'mm'))],
    };
    expect(advisory(await run(head), 'head-neck-ratio-low-with-trigger').needs).toEqual(['neck-diameter']);
  });
});

// Truth: style of the project, §9: one rule breaks: that rule becomes "cannot tell" (internal error); the others go on.
describe('when one part breaks', () => {
  const everyOutcome = async (
    given: Case,
    setting: Setting,
  ): Promise<
    readonly [Readonly<Record<string, string>>, readonly string[], Readonly<Record<string, string>>]
  > => {
    const before = outcomes(await run(given));
    const output = await run(given, setting);
    return [before, output.faults.map(({ rule }) => rule), outcomes(output)];
  };
  const throwing = (...ids: readonly string[]): ComputationTable => ({
    ...COMPUTATIONS,
    ...Object.fromEntries(
      ids.map((id) => [
        id,
        () => {
          throw new Error('planted');
        },
      ]),
    ),
  });

  it('a computation a card shows: that rule could not be evaluated, the others keep their outcomes', async () => {
    const [before, faults, after] = await everyOutcome(steep, { table: throwing('jump-distance') });
    expect(before[`left ${STEEP}`]).toBe('fires');
    expect(after).toEqual({ ...before, [`left ${STEEP}`]: 'broken', [`left ${LARGE_HEAD}`]: 'broken' });
    expect(faults).toEqual([STEEP, LARGE_HEAD]);
  });

  it('a computation a rule decides with: the same', async () => {
    const given = {
      measures: [measure('head-diameter', quantity(28, 'mm')), measure('neck-diameter', quantity(12, 'mm'))],
      conditions: [condition('c', 'G20.A1')],
    };
    const [before, faults, after] = await everyOutcome(given, { table: throwing('head-neck-ratio') });
    expect(before['left head-neck-ratio-low-with-trigger']).toBe('fires');
    expect(after).toEqual({ ...before, 'left head-neck-ratio-low-with-trigger': 'broken' });
    expect(faults).toEqual(['head-neck-ratio-low-with-trigger']);
  });

  it('a computation nobody needs here: nothing is said of it', async () => {
    const [before, faults, after] = await everyOutcome(
      { measures: plan(40, 15) },
      { table: throwing('impingement-margin') },
    );
    expect(after).toEqual(before);
    expect(faults).toEqual([]);
  });

  it('every computation: rules that need none keep their outcomes', async () => {
    const [before, , after] = await everyOutcome(
      { ...steep, conditions: [condition('c', 'G20.A1')] },
      { table: throwing(...Object.keys(COMPUTATIONS)) },
    );
    expect(after['left neurological-disease']).toBe('fires');
    expect(Object.keys(after)).toEqual(Object.keys(before));
  });

  it.each<[string, Condition]>([
    ['compares a diagnosis with a number', leaf('parkinson-disease', 'above', 3)],
    ['asks about a fact that nobody defines', has('weather')],
  ])('a rule that %s: it could not be evaluated, the others keep their outcomes', async (_what, when) => {
    const rules = shipped.rules.map((rule) =>
      rule.id === 'neurological-disease' ? { ...rule, when } : rule,
    );
    const [before, faults, after] = await everyOutcome(steep, { rulebook: { ...shipped, rules } });
    expect(after).toEqual({ ...before, 'left neurological-disease': 'broken' });
    expect(faults).toEqual(['neurological-disease']);
  });

  it('a rule without a finding that fits: the same', async () => {
    const rules = shipped.rules.map((rule) =>
      rule.id === STEEP ? { ...rule, findings: rule.findings.filter(({ node }) => node !== 'steep') } : rule,
    );
    const [before, faults, after] = await everyOutcome(steep, { rulebook: { ...shipped, rules } });
    expect(after).toEqual({ ...before, [`left ${STEEP}`]: 'broken' });
    expect(faults).toEqual([STEEP]);
  });

  it('a fault names rule, hip and construct, and holds no patient data', async () => {
    const { faults } = await run(steep, { table: throwing('jump-distance') });
    expect(faults).toMatchObject([
      { rule: STEEP, hip: 'left', construct: 'planned' satisfies ConstructKind },
      { rule: LARGE_HEAD, hip: 'left', construct: 'planned' satisfies ConstructKind },
    ]);
    expect(String(faults[0]?.error)).not.toMatch(/Patient|Observation|60/);
  });
});

describe('how complete the data of a card are', () => {
  it('is complete, assumed or partial by what stood in for what', async () => {
    // Truth: the project's design: completeness of the data (complete, assumed, partial).
    const preliminary = { more: { status: 'preliminary' } };
    const full = plan(60, 15, preliminary).map((one) => ({ ...one, status: 'preliminary' }));
    const offset = { ...measure('head-center-offset', quantity(0, 'mm'), preliminary) };
    const ccd = {
      ...measure('neck-shaft-angle', quantity(135, 'deg'), { stages: ['planned'], ...preliminary }),
    };
    const data = async (measures: readonly JsonObject[]): Promise<string | undefined> =>
      advisory(await run({ measures }), STEEP).fired?.data;
    const liner = measure('liner-type', coded('neutral'), preliminary);
    const bare = measure('skirted-head', { valueBoolean: false }, preliminary);
    expect(await data([...full, offset, ccd, liner, bare])).toBe('complete');
    expect(await data([...full, offset, ccd, bare])).toBe('assumed');
    expect(await data(full)).toBe('assumed');
    expect(await data(plan(60, 15))).toBe('partial');
  });
});
