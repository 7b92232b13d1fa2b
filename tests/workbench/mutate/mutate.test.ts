import { describe, expect, it } from 'vitest';
import type { MutantKind } from '../../../src/workbench/mutate/mutant.js';
import { MUTANT_KINDS } from '../../../src/workbench/mutate/mutant.js';
import { mutate } from '../../../src/workbench/mutate/mutate.js';
import type { MutateInput, Mutation } from '../../../src/workbench/mutate/mutate.js';
import { SHIPPED } from '../../../src/workbench/shipped-fixtures.js';
import { readCases } from '../../../src/workbench/trial/read-cases.js';
import { IS_LONG } from '../../long-form.js';
import { patientsAndEdges, reviewed, shipped, sound, sources } from '../shipped-cases.js';

/** CI tries thresholds and rules; the long form everything, operators and code lists among it. */
const SHORT: readonly MutantKind[] = ['threshold', 'rule'];

function run(more: Partial<MutateInput> = {}): Promise<Mutation> {
  const input = { rulebook: shipped, sources, engine: '0.1.0', cases: patientsAndEdges, reviewed };
  return mutate({ ...input, ...more });
}

const unexplained = ({ survivors }: Mutation): readonly string[] =>
  survivors.flatMap(({ id, explained }) => (explained ? [] : [id]));

describe('mutation of the shipped rules', () => {
  it(
    IS_LONG
      ? 'leaves no unexplained survivor of any kind, and no reason without a survivor'
      : 'leaves no unexplained survivor among thresholds and rules',
    async () => {
      const codes = { published: SHIPPED.codes, meanings: SHIPPED.codeMeanings };
      const folders = { patients: SHIPPED.patients, edges: SHIPPED.edges, ...(IS_LONG && { codes }) };
      const cases = sound(readCases(folders, shipped));
      const mutation = await run({ cases, ...(!IS_LONG && { kinds: SHORT }) });
      expect(mutation.failing).toEqual([]);
      expect(mutation.counts.map(({ kind }) => kind)).toEqual(
        IS_LONG ? MUTANT_KINDS : SHORT.toSorted(inOrder),
      );
      // Two nudges for each of the comparisons with a limit, at least two operators for each, every rule.
      const made = Object.fromEntries(mutation.counts.map((count) => [count.kind, count.made]));
      expect(made['threshold']).toBeGreaterThan(100);
      if (IS_LONG) expect(made['operator']).toBeGreaterThan(300);
      expect(made['rule']).toBe(shipped.rules.length);
      expect(unexplained(mutation)).toEqual([]);
      expect(mutation.stale).toEqual([]);
    },
    IS_LONG ? 300_000 : 60_000,
  );
});

function inOrder(a: MutantKind, b: MutantKind): number {
  return MUTANT_KINDS.indexOf(a) - MUTANT_KINDS.indexOf(b);
}

/** What tells of a rule: the others need not be answered again to see what one of these notices. */
function about(rule: string): typeof patientsAndEdges {
  return patientsAndEdges.filter(({ expects }) => JSON.stringify(expects).includes(rule));
}

describe('a planted fault in what is tried', () => {
  const LOSS = { only: 'global-offset-loss', kinds: ['threshold'] } as const;

  it('is found: with both cases just beyond a limit removed, the limit may move and the survivor is named', async () => {
    const all = about('global-offset-loss');
    expect(unexplained(await run({ ...LOSS, cases: all }))).toEqual([]);
    const cases = all.filter(({ teaches }) => teaches !== '5.1 mm is.');
    const fewer = cases.filter(({ name }) => !name.startsWith('offset-'));
    expect(cases.length).toBe(all.length - 1);
    const mutation = await run({ ...LOSS, cases: fewer });
    expect(mutation.survivors).toEqual([
      {
        id: 'threshold: advisories/placement/global-offset-loss.json when.value: global-offset-difference-low -5 → -5.1 mm',
        kind: 'threshold',
        file: 'advisories/placement/global-offset-loss.json',
        path: 'when.value',
        change: 'global-offset-difference-low -5 → -5.1 mm',
      },
    ]);
  });

  it('is found: without the case at the limit, "below" and "at-most" are the same to everybody', async () => {
    const cases = about('global-offset-loss').filter(
      ({ teaches, name }) =>
        teaches !== 'A loss of exactly 5 mm is not more than 5 mm.' && name !== 'offset-at-limit',
    );
    const mutation = await run({ only: 'global-offset-loss', kinds: ['operator'], cases });
    expect(unexplained(mutation)).toEqual([
      'operator: advisories/placement/global-offset-loss.json when.operator: projected-global-offset-difference below → at-most',
    ]);
  });

  it('is found: a rule whose every patient is gone may be deleted, and a finding taken away', async () => {
    const cases = patientsAndEdges.filter(
      ({ expects }) =>
        !(expects.kind === 'outcome' && expects.rule === 'cup-off-plan') &&
        !(expects.kind === 'cards' && expects.cards.some(({ rule }) => rule === 'cup-off-plan')),
    );
    const mutation = await run({ only: 'cup-off-plan', kinds: ['rule', 'finding'], cases });
    expect(unexplained(mutation)).toEqual([
      'rule: advisories/follow-up/cup-off-plan.json: cup-off-plan deleted',
      'finding: advisories/follow-up/cup-off-plan.json findings[0]: taken away',
      'finding: advisories/follow-up/cup-off-plan.json findings[1]: taken away',
    ]);
  });

  it('is found: a branch that one patient alone shows is missed without that patient', async () => {
    const cases = patientsAndEdges.filter(({ teaches }) => teaches !== 'Irradiation of the pelvis.');
    const mutation = await run({ only: 'instability-trigger', kinds: ['branch'], cases });
    expect(unexplained(mutation)).toEqual([
      'branch: conditions/instability-trigger.json when.any[26]: without pelvic-irradiation',
    ]);
  });

  it('is told apart from a rule that no test patient keeps: then nothing is tried', async () => {
    const [first] = patientsAndEdges;
    if (!first) throw new Error('no cases');
    const wrong = {
      ...first,
      expects: { kind: 'cards', cards: [{ rule: 'abductor-loss', hip: 'left', indicator: 'info' }] },
    } as const;
    const mutation = await run({ cases: [wrong] });
    expect(mutation.failing).toEqual([`${first.name} at ${first.hook}`]);
    expect(mutation.counts).toEqual([]);
  });
});

describe('a reviewed reason', () => {
  const reason = { reason: 'nobody need notice this, for a test', date: '2026-11-24', reviewer: 'tester' };

  it('explains a survivor by its whole id', async () => {
    const id =
      'operator: advisories/placement/global-offset-loss.json when.operator: projected-global-offset-difference below → at-most';
    const cases = about('global-offset-loss').filter(({ name }) => !name.includes('offset'));
    const mutation = await run({
      only: 'global-offset-loss',
      kinds: ['operator'],
      cases,
      reviewed: [{ id, ...reason }],
    });
    expect(mutation.survivors.find((survivor) => survivor.id === id)?.explained).toEqual({ id, ...reason });
    expect(unexplained(mutation)).not.toContain(id);
  });

  it('is stale when its change is noticed', async () => {
    const id =
      'threshold: advisories/placement/global-offset-loss.json when.value: global-offset-difference-low -5 → -4.9 mm';
    const mutation = await run({
      only: 'global-offset-loss',
      cases: about('global-offset-loss'),
      reviewed: [{ id, ...reason }],
    });
    expect(mutation.stale).toEqual([{ id, ...reason }]);
  });
});
