import { describe, expect, it } from 'vitest';
import type { Card } from '../../src/render/card-types.js';
import { evidenceParameters } from '../rulebook/evidence.js';
import { shipped } from '../rulebook/shipped.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { answerFor, testPatient } from './patients.js';
import type { Answer } from './patients.js';

/** Booking triggers of clinical decisions §1 that have a rule of their own: fracture, fixation, childhood hips, tumor, metal. */

const TRIGGERS = [
  'femoral-neck-fracture',
  'failed-fixation-conversion',
  'dysplasia-or-childhood-hip',
  'pelvic-irradiation',
  'tumor-about-the-hip',
  'metal-debris-reaction',
] as const;

function at(patient: string, hook: string): Promise<Answer> {
  return answerFor(testPatient(patient).bundle, hook);
}

async function cardOf(patient: string, hook: string, rule: string): Promise<Card> {
  return cardFor((await at(patient, hook)).cards, rule);
}

async function detailOf(patient: string, hook: string, rule: string): Promise<string> {
  return (await cardOf(patient, hook, rule)).detail;
}

function rules(answer: Answer): readonly string[] {
  return answer.cards.map(({ source }) => source.topic.code);
}

describe('a fresh femoral neck fracture', () => {
  it('is heard at booking, where nothing is asked for that takes weeks', async () => {
    // Truth: clinician, clinical decisions §2: urgent fracture arthroplasty is a normal booking and must be heard.
    const detail = await detailOf('fracture-with-dementia', 'appointment-book', 'femoral-neck-fracture');
    expect(detail).toContain('of this admission');
    expect(detail).not.toMatch(/takes time|longer-lead|weeks|hemiarthroplasty|dual mobility/);
  });

  it('puts hemiarthroplasty before dual mobility and says each time that the trials left dementia out', async () => {
    // Truth: clinician, clinical decisions §6, fracture; §9: a trial known from a news summary is provisional.
    const card = await cardOf('fracture-with-dementia', 'order-sign', 'femoral-neck-fracture');
    const { detail } = card;
    expect(fiveLines(card)[1]).toMatch(/^Options no change · hemiarthroplasty · dual mobility, price below/);
    const trials = detail
      .split('\n')
      .filter((line) => /^- .*trial/.test(line) && !/page of that trial/.test(line));
    expect(trials.filter((line) => /dementia|same 12 trials/.test(line))).toEqual(trials);
    expect(detail).toMatch(/provisional: 1\.3 against 4\.2 %/);
  });
});

describe('metal ions', () => {
  it('are held against the limit of the bearing: 3 µg/L lies below 7 and above 1', async () => {
    // Truth: published, metal-ion-mom-limit and metal-ion-mop-taper-cobalt; the two lie sevenfold apart.
    const limit = (id: string): number => evidenceParameters.get(id)?.value as number;
    expect(limit('metal-ion-mom-limit') / limit('metal-ion-mop-taper-cobalt')).toBe(7);
    expect(rules(await at('cobalt-three-metal-on-metal', 'patient-view'))).toEqual([]);
    expect(rules(await at('cobalt-three-metal-on-polyethylene', 'patient-view'))).toEqual([
      'metal-ions-by-bearing',
    ]);
  });

  it('show every limit in conflict beside the one that fits', async () => {
    // Truth: the audit of the evidence: 7, 4.97, 1 and 2.8 by bearing and stem.
    const taper = await detailOf(
      'cobalt-three-metal-on-polyethylene',
      'patient-view',
      'metal-ions-by-bearing',
    );
    expect(taper).toContain('limit 1 µg/L for this bearing, 2.8 with a modular neck');
    const { findings } = shipped.rules.find(({ id }) => id === 'metal-ions-by-bearing') ?? { findings: [] };
    expect(JSON.stringify(findings)).toContain('4.97 by another reading');
  });
});

describe('quoted rates', () => {
  it('agree with their own counts: 9 of 32 is 28 %, and 7.7 against 3.9 % is near the adjusted 1.97', () => {
    // Truth: closed form on published counts (metal-debris-revision-dislocation, conversion-after-fixation).
    const value = (id: string): Readonly<Record<string, number>> =>
      shipped.parameters.get(id)?.value as Readonly<Record<string, number>>;
    const { events = 0, hips = 0, pct } = value('metal-debris-revision-dislocation');
    expect(Math.round((100 * events) / hips)).toBe(pct);
    const { withinAYearPct: early = 0, laterPct: late = 0, or = 0 } = value('conversion-after-fixation');
    const crude = early / (100 - early) / (late / (100 - late));
    expect(crude).toBeCloseTo(2.056, 3);
    expect(Math.abs(crude - or)).toBeLessThan(0.1);
  });
});

describe('a hip revised twice', () => {
  it('has the count on a line of the card that says what comes first', async () => {
    for (const hook of ['appointment-book', 'order-sign']) {
      const answer = await at('twice-revised', hook);
      expect(rules(answer)).toEqual(['earlier-dislocation-or-revision']);
      expect(answer.cards[0]?.detail).toMatch(/Also, changing no option: .*earlier revisions of this hip: 2/);
    }
  });
});

describe('a tumor', () => {
  it('of bone without its place opens no card, and with a broken femur does', async () => {
    // Truth: clinician, clinical decisions §8: a code of any place is not taken for this one.
    expect(rules(await at('metastasis-bone-not-named', 'order-sign'))).toEqual([]);
    expect(rules(await at('tumor-planned', 'order-sign'))).toEqual(['tumor-about-the-hip']);
  });
});

describe('every card of these triggers', () => {
  it('has at booking a list of at most three things, no implant and no option', () => {
    // Truth: clinician, clinical decisions §1: a scheduler reads it.
    for (const id of TRIGGERS) {
      const rule = shipped.rules.find((one) => one.id === id);
      const booking = rule?.findings.filter(({ entries }) => entries?.includes('appointment-book')) ?? [];
      expect(booking.length, id).toBeGreaterThan(0);
      for (const { before = [], options, ready } of booking) {
        expect(before.length, id).toBeLessThanOrEqual(3);
        expect(options, id).toBeUndefined();
        expect(ready, id).toMatch(/as (?:the surgeon|surgeon and tumor board) decides?$/);
      }
    }
  });

  it('thinks of infection before mechanics where something has been operated on', async () => {
    // Truth: clinician, clinical decisions §6: infection markers before mechanics.
    for (const [patient, rule] of [
      ['conversion-of-failed-fixation', 'failed-fixation-conversion'],
      ['failed-metal-bearing', 'metal-debris-reaction'],
    ] as const) {
      expect(fiveLines(await cardOf(patient, 'order-sign', rule))[1]).toMatch(
        /^Options no change · infection markers first/,
      );
    }
  });
});
