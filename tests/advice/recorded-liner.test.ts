import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { coded, measure, quantity } from '../facts/records.js';
import { cardFor, fiveLines } from '../render/cards.js';
import { answerToHandMade, spineAngle } from './hand-made.js';

/** The margin on a card is that of the liner on record, not of a plain one with the same head. */

const SPINE = 'spine-phenotype';

/** A stiff spine under a pelvis fixed in posterior tilt: its card prints the margin of standing. */
const FIXED = [
  spineAngle('lumbar-lordosis-standing', 30),
  spineAngle('lumbar-lordosis-flexed-seated', 18),
  spineAngle('app-tilt-standing', -22),
  spineAngle('app-tilt-relaxed-seated', -25),
  spineAngle('app-tilt-supine', 0),
];

const mm = (code: string, value: number): JsonObject => measure(code, quantity(value, 'mm'));
const deg = (code: string, value: number, qualifiers?: Readonly<Record<string, string>>): JsonObject =>
  measure(code, quantity(value, 'deg'), qualifiers && { with: qualifiers });

async function cardOf(...bearing: readonly JsonObject[]): Promise<{ found: string; detail: string }> {
  const film = { 'reference-plane': 'supine-film' };
  const measures = [
    ...FIXED,
    deg('cup-inclination', 40, film),
    deg('cup-anteversion', 25, film),
    deg('stem-anteversion', 15),
    mm('neck-diameter', 12),
    ...bearing,
  ];
  const card = cardFor((await answerToHandMade('order-sign', { measures })).cards, SPINE);
  return { found: fiveLines(card)[0] ?? '', detail: card.detail };
}

/** By how much external rotation standing is missed, in whole degrees as printed. */
async function missedBy(...bearing: readonly JsonObject[]): Promise<number> {
  const { found } = await cardOf(...bearing);
  const [, degrees] = /not reached by (\d+)° \(anterior, 40° outward\)/.exec(found) ?? [];
  if (degrees === undefined) throw new Error(`no margin in: ${found}`);
  return Number(degrees);
}

describe('the margin of a planned liner', () => {
  it('of dual mobility is that of the mobile liner on the neck, not of the inner head', async () => {
    // Truth: closed form: half the oscillation angle is acos(neck / mobile liner); the inner head would give acos(12 / 28).
    const dual = [measure('liner-type', coded('dual-mobility')), mm('mobile-liner-diameter', 48)];
    const half = (head: number): number => (Math.acos(12 / head) * 180) / Math.PI;
    const gained =
      (await missedBy(mm('head-diameter', 28))) - (await missedBy(mm('head-diameter', 28), ...dual));
    expect(Math.abs(gained - (half(48) - half(28)))).toBeLessThanOrEqual(1);
  });

  it('with a posterior lip misses more of external rotation by the height of the lip', async () => {
    // Truth: closed form: beside a lip the arc is 90 - lip - asin(neck / head), so 15 degrees less; clinical decisions
    // §5: with a posteroinferior lip the margin of extension and external rotation falls.
    const lip = [
      measure('liner-type', coded('elevated-rim')),
      deg('liner-elevation-angle', 15),
      deg('liner-elevation-arc', 120),
      deg('liner-elevation-position', 90),
    ];
    const head = mm('head-diameter', 36);
    const lost = (await missedBy(head, ...lip)) - (await missedBy(head));
    expect(Math.abs(lost - 15)).toBeLessThanOrEqual(1);
  });

  it('of a lip whose size nobody recorded is not printed, and no plain rim is assumed', async () => {
    const { found, detail } = await cardOf(
      mm('head-diameter', 36),
      measure('liner-type', coded('elevated-rim')),
    );
    expect(found).not.toMatch(/not reached by|least margin/);
    expect(detail).not.toMatch(/without elevation/);
  });
});
