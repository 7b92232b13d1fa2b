import { describe, expect, it } from 'vitest';
import type { JsonObject } from '../../src/fhir/json.js';
import { answerFor, mapEntries, measureCode, testPatient } from './patients.js';
import type { Answer } from './patients.js';

/** One degree of pi over 180: the closed forms below are typed again here, apart from the code under test. */
const RAD = Math.PI / 180;
/** Sariali 2009 (10.3109/17453670902988378), records jump-distance-*: 2R sin((90 - planar inclination) / 2). */
const jumpDistance = (head: number, inclination: number): number =>
  head * Math.sin(((90 - inclination) / 2) * RAD);

interface Computed {
  readonly id?: string;
  readonly name?: string;
  readonly value: number;
}

function computed(answer: Answer): readonly Computed[] {
  const extension = answer.cards[0]?.extension['example.kotyle.advisory'];
  return (extension?.['computed'] ?? []) as readonly Computed[];
}

function ownJump(answer: Answer): number {
  const found = computed(answer).find(({ id, name }) => id === 'jump-distance' && name === undefined);
  if (!found) throw new Error('no jump distance on the card');
  return found.value;
}

function withAngle(bundle: JsonObject, code: string, value: number): JsonObject {
  return mapEntries(bundle, (resource) =>
    measureCode(resource) === code
      ? { ...resource, valueQuantity: { ...(resource['valueQuantity'] as JsonObject), value } }
      : resource,
  );
}

const steep = testPatient('steep-cup-large-head').bundle;

describe('a planned left hip, 36 mm head, 12 mm neck, radiographic 60/15, at order-sign', () => {
  it('gets one card about the steep cup with the computed jump distances', async () => {
    const answer = await answerFor(steep, 'order-sign');
    expect(answer.cards.map((card) => card.source.topic.code)).toEqual(['cup-inclination-outside-published']);
    const detail = answer.cards[0]?.detail ?? '';
    expect(ownJump(answer)).toBeCloseTo(jumpDistance(36, 60), 5);
    // The figures a surgeon was promised: 9.3 (±0.05), 15.2 at 40°, and the same 9.3 with a 22 mm head at 40°.
    expect(Math.abs(ownJump(answer) - 9.3)).toBeLessThan(0.05);
    expect(jumpDistance(36, 40)).toBeCloseTo(15.21, 2);
    expect(jumpDistance(22, 40)).toBeCloseTo(9.3, 2);
    expect(detail).toContain('jump distance 9.3 mm, 15.2 mm at 40°; a 22 mm head at 40° has 9.3 mm (model)');
    expect(detail).toContain('45° → 13.8 mm · 40° → 15.2 mm · a larger head adds 0.26 mm');
    expect(answer.cards[0]?.summary).toBe(
      'Left hip, planned: cup 60°; a 36 mm head then has about the jump distance of a 22 mm head at 40°',
    );
  });

  it('gets the same rule, indicator, options and printed numbers when the cup is stated operative or anatomic', async () => {
    const radiographic = await answerFor(steep, 'order-sign');
    const options = (answer: Answer): string =>
      /\*\*Options\*\*.*/.exec(answer.cards[0]?.detail ?? '')?.[0] ?? '';
    const jumps = (answer: Answer): string =>
      /jump distance [^(]*\(model\)/.exec(answer.cards[0]?.detail ?? '')?.[0] ?? '';
    for (const [definition, stated] of [
      ['operative', '57/28 operative (60/15 radiographic)'],
      ['anatomic', '61/17 anatomic (60/15 radiographic)'],
    ] as const) {
      const other = await answerFor(testPatient(`steep-cup-${definition}`).bundle, 'order-sign');
      expect(other.cards.map(({ indicator, summary }) => [indicator, summary])).toEqual(
        radiographic.cards.map(({ indicator, summary }) => [indicator, summary]),
      );
      expect(options(other)).toBe(options(radiographic));
      expect(jumps(other)).toBe(jumps(radiographic));
      // Angles stated to two decimals leave the distance within 0.002 mm.
      expect(Math.abs(ownJump(other) - ownJump(radiographic))).toBeLessThan(0.002);
      expect(other.cards[0]?.detail).toContain(`planned ${stated}`);
    }
  });

  it('gets no card with the cup at 40°, and none at booking, where nothing on record asks for one', async () => {
    expect((await answerFor(withAngle(steep, 'cup-inclination', 40), 'order-sign')).cards).toEqual([]);
    expect((await answerFor(steep, 'appointment-book')).cards).toEqual([]);
  });

  it('keeps its jump distance whatever the anteversion, at constant inclination', async () => {
    const jumps = new Set<number>();
    for (const anteversion of [5, 10, 15, 25, 34]) {
      jumps.add(ownJump(await answerFor(withAngle(steep, 'cup-anteversion', anteversion), 'order-sign')));
    }
    expect(jumps.size).toBe(1);
  });

  it('counts 58° as inside the widest published range and a hundredth more as outside', async () => {
    const rules = async (inclination: number): Promise<readonly string[]> =>
      (await answerFor(withAngle(steep, 'cup-inclination', inclination), 'order-sign')).cards.map(
        (card) => card.source.topic.code,
      );
    expect(await rules(58)).toEqual(['cup-inclination-above-classical']);
    expect(await rules(58.01)).toEqual(['cup-inclination-outside-published']);
    expect(await rules(50)).toEqual([]);
    expect(await rules(50.01)).toEqual(['cup-inclination-above-classical']);
    expect(await rules(30)).toEqual([]);
    expect(await rules(29.99)).toEqual(['cup-inclination-outside-published']);
  });

  it('prints an angle finely enough that the reader sees on which side of the limit it lies', async () => {
    const answer = await answerFor(withAngle(steep, 'cup-inclination', 58.3), 'order-sign');
    expect(answer.cards[0]?.summary).toContain('cup 58.3°');
  });
});
