import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, condition, measure, order, quantity, snomed } from '../facts/records.js';
import type { SignedCase } from '../render/cards.js';
import { answerFor, testPatient } from './patients.js';
import { ask as askRule, plan } from './signed.js';
import type { Asked } from './signed.js';

const ask = (given: SignedCase): Promise<Asked> => askRule('stem-anteversion-low', given);

const measured = (version: number): JsonObject =>
  measure('stem-anteversion', quantity(version, 'deg'), {
    id: 'stem-in-place',
    stages: ['postoperative'],
    with: { method: 'ct', 'version-reference': 'posterior-condylar' },
  });
const revision = { orders: [order({ code: snomed('112727005') })] };
const RETAINED = measure('component-retained', coded('stem'));
const cup = (inclination: number, anteversion: number): readonly JsonObject[] =>
  plan(inclination, anteversion, 0).slice(0, 2);

describe('a stem', () => {
  it.each([
    [-5, 'fires', /stem planned retroverted: anteversion -5°/],
    [-0.1, 'fires', /stem planned retroverted: anteversion -0\.1°/],
    [0, 'fires', /stem anteversion 0°, below the low limit 5°/],
    [4.9, 'fires', /stem anteversion 4\.9°, below the low limit 5°/],
    [5, 'does-not-fire', undefined],
    [15, 'does-not-fire', undefined],
  ])('of %d°: %s', async (version, outcome, summary) => {
    // Truth: published, parameters stem-retroversion-limit 0 and stem-anteversion-low-limit 5; edges inside.
    const asked = await ask({ measures: plan(40, 20, version, 'posterior') });
    expect(asked.outcome).toBe(outcome);
    if (summary) expect(asked.card?.summary).toMatch(summary);
    expect(asked.card?.indicator ?? 'info').toBe('info');
  });

  it.each([
    ['not recorded', []],
    [
      'stated against the native neck',
      [measure('stem-anteversion', quantity(-8, 'deg'), { with: { 'version-reference': 'native-neck' } })],
    ],
  ])('whose version is %s can not be told', async (_name, stem) => {
    // Truth: clinical decisions §4: version-reference posterior-condylar, tibial, native-neck are different angles.
    const { outcome, needs } = await ask({ measures: [...cup(40, 20), ...stem] });
    expect(outcome).toBe('cannot-tell');
    expect(needs).toEqual(['stem-anteversion']);
  });

  it('planned too low has stem options first, then what the cup could give', async () => {
    // Truth: clinical decisions §6; closed form: 37.3 - 0.7 × 2 = 35.9, more than 34.
    const { lines } = await ask({ measures: plan(40, 20, 2, 'posterior') });
    expect(lines[1]).toMatch(
      /no change · stem first: version-independent \(cemented, modular\) or re-broached · cup compensation, partial: up to 34°; one model’s line would give 36°/,
    );
  });

  it.each([
    [4.8, /cup 34°, which one model’s line would give/],
    [4.7, /partial: up to 34°/],
  ])('of %d°: what the line asks is shown whole up to 34°, else as partial', async (version, wanted) => {
    // Truth: clinical decisions §6; closed form: 37.3 - 0.7 × 4.8 = 33.94, - 0.7 × 4.7 = 34.01.
    expect(37.3 - 0.7 * 4.8).toBeLessThan(34);
    expect(37.3 - 0.7 * 4.7).toBeGreaterThan(34);
    expect((await ask({ measures: plan(40, 20, version, 'posterior') })).lines[1]).toMatch(wanted);
  });
});

describe('a stem that stays', () => {
  it('of the worked patient is judged with the planned cup: infection markers, then stem revision, then the cup', async () => {
    // Truth: clinician, worked patient 3 of the clinical decisions; closed form 20 - 5 = 15, 37.3 + 3.5 = 40.8.
    const answer = await answerFor(testPatient('retained-retroverted-stem').bundle, 'order-sign');
    const card = answer.cards.find(({ source }) => source.topic.code === 'stem-anteversion-low');
    expect(card?.summary).toBe('Right hip, planned: the stem that stays is retroverted: anteversion -5°');
    expect(card?.detail).toMatch(
      /stem -5° \(retained, CT, 12 Oct 2026\), limit 5°; planned 40\/20 radiographic; sum 15°/,
    );
    expect(card?.detail).toMatch(
      /no change · infection markers before mechanics · stem revision before cup compensation · cup compensation, partial: up to 34°; one model’s line would give 41°/,
    );
    expect(card?.detail).not.toContain('55/5');
    expect(card?.extension['example.kotyle.advisory']['facts']).toContainEqual(
      expect.objectContaining({ id: 'stem-anteversion-condylar', value: -5, retained: true, method: 'ct' }),
    );
  });

  it('is not read into the plan unless the plan says that it stays, and the plan’s own value comes before it', async () => {
    // Truth: clinical decisions §2: an in-place value never overrides a planned one.
    const open = await ask({ ...revision, measures: [...cup(40, 20), measured(-5)] });
    expect(open.outcome).toBe('cannot-tell');
    expect(open.needs).toEqual(['component-retained', 'stem-anteversion']);
    const planned = await ask({ ...revision, measures: [...plan(40, 20, 15), measured(-5), RETAINED] });
    expect(planned.outcome).toBe('does-not-fire');
  });

  it('with another component named as retained is a new stem, whose version is asked for', async () => {
    // Truth: closed form: a retained cup says that the rest is exchanged.
    const { needs } = await ask({
      ...revision,
      measures: [...cup(40, 20), measured(-5), measure('component-retained', coded('cup'))],
    });
    expect(needs).toEqual(['stem-anteversion']);
  });
});

describe('a low stem', () => {
  const low = [...cup(40, 20), measured(-5), RETAINED];
  const dislocated = { ...revision, conditions: [condition('c', 'T84.021A')] };
  const toward = (value: string): JsonObject =>
    measure('dislocation-direction', coded(value), { stages: ['postoperative'] });

  it('in an unstable hip of unknown direction asks for the direction first', async () => {
    // Truth: clinical decisions §6.
    const { lines } = await ask({ ...dislocated, measures: low });
    expect(lines[1]).toMatch(/infection markers before mechanics.*direction and count of dislocations first/);
    expect(lines[1]).not.toMatch(/stem revision|cup compensation/);
  });

  it('in a hip that dislocated anteriorly adds no anteversion', async () => {
    // Truth: closed form: more anteversion turns the cup further toward where the head left it.
    const { lines } = await ask({ ...dislocated, measures: [...low, toward('anterior')] });
    expect(lines[1]).toMatch(/nothing that adds (cup )?anteversion/);
    expect(lines[1]).not.toMatch(/cup compensation/);
    const posterior = await ask({ ...dislocated, measures: [...low, toward('posterior')] });
    expect(posterior.lines[1]).toMatch(/stem revision before cup compensation/);
  });

  it('under a pelvis fixed in posterior tilt adds no anteversion', async () => {
    // Truth: clinical decisions §6.
    const tilt = measure('app-tilt-standing', quantity(-22, 'deg'), { stages: ['native'] });
    const { lines } = await ask({ measures: [...plan(40, 20, -3, 'posterior'), tilt] });
    expect(lines[1]).toMatch(/nothing that adds (cup )?anteversion/);
    expect(lines[1]).not.toMatch(/cup compensation/);
  });
});
