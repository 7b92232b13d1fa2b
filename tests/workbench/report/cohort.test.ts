import { describe, expect, it } from 'vitest';
import { asDecide, compileDecide } from '../../../src/engine/compiled-decide.js';
import { HOOKS_BY_NAME } from '../../../src/advice/hook-inputs.js';
import { cohortReport } from '../../../src/workbench/report/cohort.js';
import { cardsAtShare, percentText } from '../../../src/workbench/report/burden-figures.js';
import { cohortText } from '../../../src/workbench/report/cohort-text.js';
import type { HookBurden } from '../../../src/workbench/report/report-types.js';
import { advisor, rulebook, testPatient } from '../../advice/patients.js';
import { evaluationNamed, setting } from '../evaluate/evaluations.js';
import { members, NAMES, smallCohort } from './cohorts.js';

describe('a run over a cohort', () => {
  it('counts each outcome once for every hip, construct and hook', async () => {
    const { coverage } = await smallCohort();
    const advisories = (await Promise.all(NAMES.map(evaluationNamed))).flatMap(({ answers }) =>
      answers.flatMap(({ answer }) => answer.hips.flatMap((hip) => hip.advisories)),
    );
    expect(coverage.rows.map(({ rule }) => rule)).toEqual(rulebook.rules.map(({ id }) => id));
    for (const { rule, outcomes } of coverage.rows)
      for (const [outcome, count] of Object.entries(outcomes))
        expect({ rule, outcome, count }).toEqual({
          rule,
          outcome,
          count: advisories.filter((one) => one.rule === rule && one.outcome === outcome).length,
        });
  });

  it('counts the cards written down for its patients, by hook, severity and rule', async () => {
    // Truth: the expectations of the test patients.
    const { burden } = await smallCohort();
    const booking = burden.find(({ hook }) => hook === 'appointment-book');
    const expected = NAMES.map((name) => testPatient(name).expected.cards['appointment-book'] ?? []);
    expect(booking?.calls).toBe(NAMES.length);
    expect(booking?.callsByCards).toEqual(
      [0, 1].map((count) => expected.filter((cards) => cards.length === count).length),
    );
    expect(booking?.cards.info).toBe(expected.flat().filter(({ indicator }) => indicator === 'info').length);
    expect(booking?.cardsByRule.find(({ rule }) => rule === 'neurological-disease')?.cards).toBe(1);
    expect(booking?.cardsByRule.at(-1)?.cards).toBe(0);
  });

  it('counts what is missing by the outcomes that name it, and who could not be evaluated', async () => {
    const result = await smallCohort();
    const { answers } = await evaluationNamed('nothing-known');
    const alone = await smallCohort(members.filter(({ where }) => where === 'nothing-known.json'));
    const naming = answers
      .flatMap(({ answer }) => answer.hips.flatMap((hip) => hip.advisories))
      .filter(({ needs }) => needs.includes('abductor-strength'));
    expect(alone.missing.find(({ fact }) => fact === 'abductor-strength')).toMatchObject({
      title: 'abductor strength',
      outcomes: naming.length,
      alone: naming.filter(({ needs }) => needs.length === 1).length,
      patients: 1,
    });
    expect(result).toMatchObject({ patients: 5, withoutHip: 1 });
    expect(result.unreadable).toEqual([members.at(-1)]);
  });

  it('holds nothing of any patient', async () => {
    const text = JSON.stringify(await smallCohort());
    for (const name of NAMES) {
      const { bundle } = testPatient(name);
      const dates = [...JSON.stringify(bundle).matchAll(/"birthDate":"([^"]+)"/g)].map(
        ([, date]) => date ?? '',
      );
      for (const secret of [`Patient/${name}`, ...dates]) expect(text).not.toContain(secret);
    }
    expect(text).not.toMatch(/Observation\/|Condition\/|ServiceRequest\//);
  });

  it('is the same whenever it is made', async () => {
    expect(JSON.stringify(await smallCohort())).toBe(JSON.stringify(await smallCohort()));
  });

  it('is the same with the evaluator compiled for many patients as with the engine', async () => {
    const decide = asDecide(compileDecide(rulebook.rules));
    const parts = {
      setting,
      hooks: HOOKS_BY_NAME.all,
      advisor: { ...advisor, decide },
      over: (await smallCohort()).about.over,
    };
    expect(await cohortReport(members, parts)).toEqual(await smallCohort());
  });

  it('is told in text with its figures and who decides', async () => {
    const text = cohortText(await smallCohort(), rulebook.about.deferral);
    expect(text).toContain('5 patients, 1 without a hip replacement to speak of, 1 faults');
    expect(text).toMatch(
      /Booking: 4 calls; no card 75 %, median 0, 95th percentile 1, with a warning or worse 0 %/,
    );
    expect(text).toContain('broken.json: broken JSON at line 1');
    expect(text).toContain(rulebook.about.deferral);
    expect(text).not.toMatch(/undefined|NaN/);
  });
});

describe('figures of a burden', () => {
  const burden = (callsByCards: readonly number[]): HookBurden => ({
    hook: 'order-sign',
    calls: callsByCards.reduce((sum, count) => sum + count, 0),
    callsByCards,
    callsWithWarning: 0,
    cards: { info: 0, warning: 0, critical: 0 },
    cardsByRule: [],
  });

  it('takes the fewest cards that a share of calls does not exceed', () => {
    // 20 calls: 10 without a card, 8 with one, 1 with two, 1 with five.
    const calls = burden([10, 8, 1, 0, 0, 1]);
    expect([0.5, 0.51, 0.9, 0.95, 1].map((share) => cardsAtShare(calls, share))).toEqual([0, 1, 1, 2, 5]);
    expect(cardsAtShare(burden([]), 0.5)).toBeUndefined();
  });

  it('never rounds a few to none', () => {
    expect([percentText(1, 500), percentText(0, 500), percentText(67, 100), percentText(0, 0)]).toEqual([
      '0.2 %',
      '0 %',
      '67 %',
      '–',
    ]);
  });
});
