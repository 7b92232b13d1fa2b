import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, concept, condition, measure, order, quantity, snomed } from '../facts/records.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { advisoryOf, answerToHandMade, done } from './hand-made.js';
import type { HandMade } from './hand-made.js';
import { answerFor, answerTo, inputFor, testPatient } from './patients.js';
import type { Answer } from './patients.js';

const RULE = 'earlier-dislocation-or-revision';
const BY_CAUSE = 'revision-strategy-by-cause';
const WORK_UP = 'unstable-hip-work-up';
const PCS = 'http://www.cms.gov/Medicare/Coding/ICD10';
const REVISION = [order({ code: snomed('112727005') })];

/** ICD-10-PCS 0SWBXJZ: closed reduction of the synthetic substitute in the left hip joint. */
const reduced = (id: string, date?: string): JsonObject => done(id, concept(PCS, '0SWBXJZ'), date);

function toward(direction: string): JsonObject {
  return measure('dislocation-direction', coded(direction), { stages: ['postoperative'] });
}

function sign(given: HandMade): Promise<Answer> {
  return answerToHandMade('order-sign', { orders: REVISION, ...given });
}

function optionsOf(answer: Answer): readonly string[] {
  const line = fiveLines(cardFor(answer.cards, RULE))[1] ?? '';
  return line.replace(/^Options /, '').split(' · ');
}

const OUT = [condition('d', 'T84.021A')];

describe('a revision of a hip that came out', () => {
  it('puts infection first, then loosening, and a constrained liner last', async () => {
    // Truth: clinician, clinical decisions §6: infection markers before mechanics; subsidence, migration, fracture,
    // loosening before "malposition"; a constrained liner never first where the cup is malpositioned.
    const options = optionsOf(await sign({ conditions: OUT, measures: [toward('posterior')] }));
    expect(options.map((option) => option.split(/[ ,]/)[0])).toEqual([
      'no',
      'infection',
      'subsidence',
      'which',
      'orientation',
      'dual',
      'constrained',
    ]);
  });

  // Truth: clinician, clinical decisions §6: no orientation option without a known direction of dislocation.
  it.each([
    ['not recorded', [], false],
    ['recorded as unknown', [toward('unknown')], false],
    ['posterior', [toward('posterior')], true],
    ['anterior', [toward('anterior')], true],
  ] as const)('speaks of orientation only for a known direction: %s', async (_name, measures, speaks) => {
    const options = optionsOf(await sign({ conditions: OUT, measures }));
    expect(options.some((option) => option.startsWith('orientation'))).toBe(speaks);
    expect(options.some((option) => option.startsWith('direction'))).toBe(!speaks);
  });

  it('gives dual mobility and constraint with their price and interval', async () => {
    // Truth: published, dual-mobility-revision RR 0.28 (0.09-0.87), constrained-liner-failure 11.4 (10.3-12.6) %.
    const { detail } = cardFor((await sign({ conditions: OUT })).cards, RULE);
    expect(detail).toMatch(/RR 0\.28 \(95 % CI 0\.09–0\.87\)/);
    expect(detail).toMatch(/its price, used for recurrent dislocation: 6 % failed/);
    expect(detail).toMatch(/11\.4 % \(95 % CI 10\.3–12\.6\)/);
    expect(detail).toMatch(/OR 2\.739 \(95 % CI 1\.888–3\.974\)/);
  });

  it('shows CRP and ESR with the chronic limits read, left to local protocol', async () => {
    // Truth: published, infection-crp-chronic 10 mg/L, infection-esr-chronic 30 mm/h.
    const observations = [
      ['1988-5', 34, 'mg/L'],
      ['4537-7', 41, 'mm/h'],
    ].map(([code, value, unit]) => ({
      resourceType: 'Observation',
      id: String(code),
      status: 'final',
      subject: { reference: 'Patient/p' },
      code: concept('http://loinc.org', String(code)),
      effectiveDateTime: '2026-11-10',
      ...quantity(value, String(unit)),
    }));
    const card = cardFor((await sign({ conditions: OUT, observations })).cards, BY_CAUSE);
    expect(fiveLines(card)[0]).toMatch(/CRP 34 mg\/L, ESR 41 mm\/h/);
    expect(card.detail).toMatch(/CRP: chronic limit 10 mg\/L .* by local protocol/);
    expect(card.detail).toMatch(/ESR: chronic limit 30 mm\/h .* by local protocol/);
  });

  it('counts dated reductions, not diagnosis codes: three codes and two days are two episodes', async () => {
    // Truth: clinician, clinical decisions §8: T84.02- includes instability and subluxation: count dated episodes.
    const conditions = ['a', 'b', 'c'].map((id) => condition(id, 'T84.021A'));
    const procedures = [
      reduced('r1', '2025-02-01'),
      reduced('r2', '2025-02-01'),
      reduced('r3', '2026-03-04'),
      reduced('r4'),
    ];
    const card = cardFor((await sign({ conditions, procedures })).cards, RULE);
    expect(fiveLines(card)[0]).toMatch(/closed reductions: 2, since 1 Feb 2025/);
  });

  it('for another reason than instability speaks of infection and the old implant, not of direction or constraint', async () => {
    const count = measure('dislocation-count', { valueInteger: 0 }, { stages: ['postoperative'] });
    const answer = await sign({ measures: [count] });
    expect(optionsOf(answer).join(' ')).not.toMatch(/direction|constrained|orientation/);
    const { detail } = cardFor(answer.cards, RULE);
    expect(detail).not.toMatch(/earlier instability: OR|constrained liner/);
  });

  it('hears a counted dislocation that carries no diagnosis', async () => {
    const count = measure('dislocation-count', { valueInteger: 1 }, { stages: ['postoperative'] });
    const answer = await answerToHandMade('order-sign', { measures: [count] });
    expect(advisoryOf(answer, RULE, 'planned').outcome).toBe('fires');
  });

  it('does not take a dislocation of the other hip for its own', async () => {
    // Truth: clinician, clinical decisions §8: a T84.02- on the other hip is not this hip's history.
    const answer = await answerFor(testPatient('other-hip-dislocated').bundle, 'order-sign');
    expect(advisoryOf(answer, RULE, 'planned').outcome).toBe('does-not-fire');
  });

  it('cannot be ruled out where nobody says how often the hip came out', async () => {
    const answer = await answerToHandMade('order-sign', {});
    const advisory = advisoryOf(answer, RULE, 'planned');
    expect([advisory.outcome, advisory.needs]).toEqual(['cannot-tell', ['dislocation-count']]);
    expect(answer.cards).toEqual([]);
  });
});

describe('the work-up card at the chart', () => {
  it('of a cup at 58/28 after two dislocations carries checks in order, never options', async () => {
    // Truth: clinician, clinical decisions §2, §6: work-up cards carry checks and never "no change".
    const answer = await answerFor(testPatient('dislocated-58-28').bundle, 'patient-view');
    const card = cardFor(answer.cards, WORK_UP);
    const [found = '', checks = ''] = fiveLines(card);
    expect(found).toMatch(/closed reductions: 2, since 1 Feb 2026; measured 58\/28 radiographic/);
    expect(checks).toMatch(/^To check infection markers first.*loosening, migration, fracture.*direction/);
    expect(found).toMatch(/causes open: infection, .*cup position.*wear.*abductors/);
    expect(card.detail).not.toMatch(/no change/);
    expect(card.indicator).toBe('info');
  });

  it('stays away from the same cup that never came out', async () => {
    // Truth: clinician, clinical decisions §2: asymptomatic in-place 58/28: info at most.
    const answer = await answerFor(testPatient('asymptomatic-58-28').bundle, 'patient-view');
    expect(advisoryOf(answer, WORK_UP, 'in-place').outcome).toBe('does-not-fire');
    expect(answer.cards.map(({ indicator }) => indicator)).toEqual(['info']);
  });

  it('stays quiet once it was answered', async () => {
    // Truth: clinician, clinical decisions §1: acknowledged stays quiet.
    const input = inputFor(testPatient('dislocated-58-28').bundle, 'patient-view');
    if (!input) throw new Error('no chart');
    const first = await answerTo(input);
    const hashes = first.cards.map(({ extension }) =>
      String(extension['example.kotyle.advisory']['acknowledgement']),
    );
    expect((await answerTo({ ...input, acknowledged: new Set(hashes) })).cards).toEqual([]);
  });
});
