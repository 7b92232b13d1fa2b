import { describe, expect, it } from 'vitest';
import { measure, quantity } from '../facts/records.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { answerToHandMade, spineAngle } from './hand-made.js';
import { answerTo, inputFor, rulebook, testPatient } from './patients.js';

/** What a reader is told about the age of data and rules. */

const STEEP = 'cup-inclination-outside-published';

describe('a plan', () => {
  it('that is years old is told with its date, and as the oldest input', async () => {
    // Truth: closed form, the dates put in; risk note HZ-06: the date is shown.
    const measures = [
      measure('cup-inclination', quantity(62, 'deg'), { date: '2012-03-01' }),
      measure('cup-anteversion', quantity(20, 'deg'), { date: '2026-11-02' }),
    ];
    const card = cardFor((await answerToHandMade('order-sign', { measures })).cards, STEEP);
    expect(fiveLines(card)[0]).toContain('1 Mar 2012');
    expect(card.extension['example.kotyle.advisory']).toMatchObject({ oldestInput: '2012-03-01' });
  });
});

describe('an angle of the spine', () => {
  it('that advice rests on and that is years old opens a card that says so', async () => {
    // Truth: clinician: posture changes with time, so a stiff pelvis of years ago need not be one today.
    const measuredOn = async (date: string): Promise<readonly string[]> => {
      const measures = [
        spineAngle('lumbar-lordosis-standing', 30),
        spineAngle('lumbar-lordosis-flexed-seated', 18),
        spineAngle('app-tilt-standing', -22),
        spineAngle('app-tilt-relaxed-seated', -25),
      ].map((film) => ({ ...film, effectiveDateTime: date }));
      const { cards } = await answerToHandMade('order-sign', { measures });
      return cards.map(({ source }) => source.topic.code);
    };
    expect(await measuredOn('2022-11-02')).toContain('measure-stale');
    expect(await measuredOn('2026-11-02')).not.toContain('measure-stale');
  });
});

describe('a rule', () => {
  it('past its review date says so on its card, and not on the day itself', async () => {
    // Truth: integration decisions §4: past `reviewBy` the card says "review overdue".
    const patient = testPatient('steep-cup-large-head');
    const reviewBy = rulebook.rules.find(({ id }) => id === STEEP)?.reviewBy ?? '';
    const detailOn = async (now: string): Promise<string> => {
      const input = inputFor(patient.bundle, 'order-sign', now);
      if (!input) throw new Error('nothing to sign');
      return cardFor((await answerTo(input)).cards, STEEP).detail;
    };
    expect(await detailOn(`${reviewBy}T23:00:00.000Z`)).not.toContain('review overdue');
    const after = new Date(Date.parse(`${reviewBy}T12:00:00Z`) + 24 * 3_600_000).toISOString();
    expect(await detailOn(after)).toContain('review overdue');
  });
});
