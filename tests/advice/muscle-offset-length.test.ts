import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { condition, measure, order, snomed } from '../facts/records.js';
import type { SignedCase } from '../render/cards.js';
import { fiveLines } from '../render/cards.js';
import { answerFor, testPatient } from './patients.js';
import { ask, mm } from './signed.js';
import type { Asked } from './signed.js';

const grade = (value: number): JsonObject =>
  measure('abductor-strength', { valueInteger: value }, { stages: ['native'] });
const sign = (value: boolean): JsonObject =>
  measure('trendelenburg-sign', { valueBoolean: value }, { stages: ['native'] });

describe('weak or lost abductors', () => {
  const asked = (given: SignedCase): Promise<Asked> => ask('abductor-loss', given);

  it.each([
    [2, 'fires'],
    [3, 'fires'],
    [4, 'does-not-fire'],
    [5, 'does-not-fire'],
  ])('of grade %d: %s', async (value, outcome) => {
    // Truth: published, parameter abductor-strength-deficient: grade 3 or less; common practice, no source.
    const given = await asked({ measures: [grade(value)] });
    expect(given.outcome).toBe(outcome);
    if (given.card) expect(given.lines[2]).toMatch(/common practice/);
  });

  it('are not told from a Trendelenburg sign alone: the grade is asked for', async () => {
    // Truth: published, parameter trendelenburg-alone and record trendelenburg-validity: it only asks for examination.
    for (const value of [true, false]) {
      const { outcome, needs } = await asked({ measures: [sign(value)] });
      expect(outcome).toBe('cannot-tell');
      expect(needs).toEqual(['abductor-strength']);
    }
    // Beside a grade the sign tells nothing more; without one it is shown.
    const both = await asked({ measures: [sign(true), grade(2)] });
    expect(both.lines[0]).not.toContain('Trendelenburg');
    const ununited = condition('c', 'S72.112K');
    const alone = await asked({ measures: [sign(true)], conditions: [ununited] });
    expect(alone.lines[0]).toContain('Trendelenburg sign: yes');
  });

  it('never make an option of less offset, and price dual mobility and constraint', async () => {
    // Truth: clinical decisions §6.
    const { lines, card } = await asked({
      measures: [
        grade(2),
        mm('global-offset-difference', -4, 'native'),
        mm('femoral-offset-change', -6),
        mm('hip-center-medialization', 3),
      ],
    });
    expect(lines[0]).toContain('projected global offset difference -13.0 mm');
    expect(lines[1]).toMatch(/global offset at or above native, replacing no torn muscle/);
    expect(lines[1]).not.toMatch(/less offset|lower offset/);
    expect(lines[1]).toMatch(/dual mobility or, last, a constrained liner, at the prices below/);
    expect(card?.detail).toMatch(/infection HR 3\.2 \(95 % CI 1\.49–6\.85\)/);
    expect(card?.detail).toMatch(/constrained liner: 11\.4 %/);
    expect(card?.detail).not.toMatch(/\b30\b.*two-stage|HR 30/);
  });

  it('list the largest adjusted effect first, each with its population', async () => {
    // Truth: clinical decisions §3; published, records goumenos2024-abductor (2.85) and wetters2013-abductor (2.672).
    const detail = (await asked({ measures: [grade(1)] })).card?.detail ?? '';
    expect(detail.indexOf('HR 2.85 (95 % CI 1.01–8.01)')).toBeGreaterThan(0);
    expect(detail.indexOf('OR 2.672, no interval printed')).toBeGreaterThan(detail.indexOf('HR 2.85'));
  });

  it('offer a hemiarthroplasty where the neck is broken', async () => {
    // Truth: clinical decisions §6, fracture.
    const { lines } = await asked({ measures: [grade(2)], conditions: [condition('c', 'S72.002A')] });
    expect(lines[1]).toMatch(/hemiarthroplasty/);
  });

  it('speak at booking to a scheduler: at most three things, no implant', async () => {
    // Truth: clinical decisions §1.
    const answer = await answerFor(testPatient('trochanter-nonunion').bundle, 'appointment-book');
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual(['abductor-loss']);
    const [found = '', before = ''] = answer.cards.flatMap(fiveLines);
    expect(found).toMatch(/trochanter/i);
    expect(before.split(' · ').length).toBe(3);
    expect(before).toMatch(/abductor strength \(0–5\) noted/);
    expect(before).not.toMatch(/dual mobility|constrained|\bhead\b|\bcup\b/i);
  });
});

describe('lost global offset', () => {
  const asked = (native: number, femoral: number, medial?: number): Promise<Asked> =>
    ask('global-offset-loss', {
      measures: [
        mm('global-offset-difference', native, 'native'),
        mm('femoral-offset-change', femoral),
        ...(medial === undefined ? [] : [mm('hip-center-medialization', medial)]),
      ],
    });

  it.each([
    [0, -2, 3, 'does-not-fire'],
    [0, -2, 3.1, 'fires'],
    [-8, 0, 0, 'fires'],
    [-8, 6, 0, 'does-not-fire'],
    [6, -8, 4, 'fires'],
    [6, -8, 3, 'does-not-fire'],
  ])('%d before, stem %d, center %d medial: %s', async (native, femoral, medial, outcome) => {
    // Truth: clinical decisions §4: offset loss uses global offset, more than 5 mm; closed form native + femoral - medial.
    expect(native + femoral - medial < -5).toBe(outcome === 'fires');
    expect((await asked(native, femoral, medial)).outcome).toBe(outcome);
  });

  it('shows the limit that conflicts and that a film errs by more than the limit', async () => {
    // Truth: clinical decisions §4; published, parameters offset-loss-severe 20, conflict-global-offset 7.
    const { card, lines } = await asked(-4, -6, 3);
    expect(card?.summary).toContain(
      'projected global offset -13.0 mm against the other hip; loss limit 5 mm, another 20 mm',
    );
    expect(lines[0]).toMatch(
      /limits: 5 mm \(strength\), 20 mm \(pain\); film error 7 mm, above the lower limit; up to 20 % under-read in external rotation/,
    );
    expect(card?.indicator).toBe('info');
  });

  it('is not told without the movement of the hip center, whose default is only shown', async () => {
    // Truth: the project's design: an outcome rests on a default only if it is the same over all that is plausible.
    const { outcome, needs } = await asked(0, -12);
    expect(outcome).toBe('cannot-tell');
    expect(needs).toEqual(['hip-center-medialization']);
  });
});

describe('leg length', () => {
  const asked = (native: number, change: number, more: SignedCase = {}): Promise<Asked> =>
    ask('projected-leg-length-over-limit', {
      ...more,
      measures: [mm('leg-length-discrepancy', native, 'native'), mm('leg-length-change', change)],
    });

  it.each([
    [-18, 16, 'does-not-fire'],
    [0, 12, 'fires'],
    [-2, 12, 'does-not-fire'],
    [-2, 12.1, 'fires'],
    [14, 0, 'fires'],
    [14, -5, 'does-not-fire'],
    [-30, 25, 'does-not-fire'],
  ])('%d before and %d of change: %s', async (native, change, outcome) => {
    // Truth: clinical decisions §4 and worked patient 4: native + change > +10 mm, not the change itself.
    expect(native + change > 10).toBe(outcome === 'fires');
    expect((await asked(native, change)).outcome).toBe(outcome);
  });

  it('shows where it comes from, the error of a film and the report that disagrees', async () => {
    // Truth: closed form; published, conflict-leg-length 4 mm, record lld-no-correlation-whitehouse.
    const { lines, card } = await asked(0, 12);
    expect(lines[0]).toContain('before surgery 0 mm, planned change 12 mm → 12.0 mm; a film errs by 4 mm');
    expect(card?.detail).toMatch(/limp OR 2\.08 \(95 % CI 1\.55–2\.8\)/);
    expect(card?.detail).toMatch(/against it: no reported outcome differed/);
  });
});

describe('the note on the nerve', () => {
  const asked = (change: number, more: SignedCase = {}): Promise<Asked> =>
    ask('lengthening-nerve-note', { ...more, measures: [mm('leg-length-change', change)] });
  const dysplasia = { conditions: [condition('c', 'M16.32')] };

  it.each([
    [16, 'fires'],
    [4.1, 'fires'],
    [4, 'does-not-fire'],
    [0, 'does-not-fire'],
    [-10, 'does-not-fire'],
  ])('with dysplasia and %d mm: %s', async (change, outcome) => {
    // Truth: clinical decisions §4; a film errs by 4 mm (conflict-leg-length), so less is no lengthening it can show.
    const given = await asked(change, dysplasia);
    expect(given.outcome).toBe(outcome);
    if (given.card) {
      expect(given.card.indicator).toBe('info');
      expect(given.card.summary).toMatch(/no safe limit for the nerve known/);
    }
  });

  it('is made after earlier surgery too, and not without either', async () => {
    // Truth: clinical decisions §4: only with dysplasia or earlier surgery.
    expect((await asked(16, { orders: [order({ code: snomed('112727005') })] })).outcome).toBe('fires');
    expect((await asked(16)).outcome).toBe('does-not-fire');
    const answer = await answerFor(testPatient('equal-legs-lengthened').bundle, 'order-sign');
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual(['projected-leg-length-over-limit']);
  });

  it('stands without a length alarm for the short leg of the worked patient', async () => {
    // Truth: clinician, worked patient 4 of the clinical decisions: no length alarm, nerve note.
    const answer = await answerFor(testPatient('short-leg-dysplasia').bundle, 'order-sign');
    expect(answer.cards.map(({ source }) => source.topic.code)).toEqual([
      'femoral-version-not-free',
      'lengthening-nerve-note',
    ]);
  });
});
