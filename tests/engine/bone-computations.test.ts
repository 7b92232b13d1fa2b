import { describe, expect, it } from 'vitest';
import { workedExample } from '../biomechanics/worked-example.js';
import { intervalOf } from '../facts/records.js';
import { z } from 'zod';
import { computed, derivedFacts, needsOf, shown } from './computed-records.js';
import type { Values } from './computed-records.js';
import { exactNumber } from '../../src/facts/fact.js';

/** What generic bone says of the changes a record states: which way, and never how far. */

const CHANGE = 'bony-impingement-margin-change';
const MARGIN = 'bony-impingement-margin';
const STILL = {
  'femoral-offset-change': 0,
  'leg-length-change': 0,
  'hip-center-medialization': 0,
  'hip-center-elevation': 0,
};
const TYPES = ['I', 'II', 'III'] as const;

function claimOf(id: string): string {
  return workedExample('bony-contact', id, { inputs: z.unknown(), expected: z.unknown() }).label;
}

describe('bone of nobody in particular', () => {
  it('unchanged has no change of its margin, with every type of spine', () => {
    for (const type of TYPES) expect(shown(CHANGE, { ...STILL, 'aiis-prominence': type })).toBe(0);
  });

  it.each(TYPES)(
    `with a spine of type %s meets later with more offset and sooner with less (${claimOf('offset-vs-height-rom-shoji')})`,
    (type) => {
      const at = (offset: number): number =>
        shown(CHANGE, { ...STILL, 'femoral-offset-change': offset, 'aiis-prominence': type });
      expect(at(4)).toBeGreaterThan(0);
      expect(at(8)).toBeGreaterThan(0);
      expect(at(-4)).toBeLessThan(0);
      expect(at(-8)).toBeLessThan(0);
    },
  );

  it(`meets sooner with a longer leg (${claimOf('offset-vs-height-rom-shoji')})`, () => {
    expect(shown(CHANGE, { ...STILL, 'leg-length-change': 5 })).toBeLessThan(0);
  });

  it(`meets sooner with a higher center, the leg as long as before (${claimOf('high-hip-centre-rom')})`, () => {
    expect(shown(CHANGE, { ...STILL, 'hip-center-elevation': 5 })).toBeLessThan(0);
  });

  it('meets sooner with a center set medially that no offset makes up for (common practice, no source)', () => {
    expect(shown(CHANGE, { ...STILL, 'hip-center-medialization': 5 })).toBeLessThan(0);
  });

  it('names the motion in which it meets first', () => {
    expect(computed(MARGIN, { ...STILL, 'aiis-prominence': 'III' }).motion).toBe(
      'internal rotation 30° at 90°',
    );
    expect(computed(MARGIN, STILL).motion).toBeDefined();
  });
});

describe('a bony margin', () => {
  it('is unknown where neither offset, length nor center was stated', () => {
    const found = computed(CHANGE, { 'stem-anteversion': 15, 'aiis-prominence': 'I' });
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toEqual(Object.keys(STILL).sort());
  });

  it('is shown with what it takes for granted, and decides nothing until all of it is stated', () => {
    const some = computed(CHANGE, { 'femoral-offset-change': 4 });
    expect(some.assumptions).toEqual([
      'hip center as high as before, no change stated',
      'hip center where it was, its medialization not stated',
      'leg as long as before, no change stated',
      'spine above the rim (type I), not stated',
      'stem version 15°, not stated',
    ]);
    expect(some.fact.state.status).toBe('unknown');
    const whole: Values = {
      ...STILL,
      'femoral-offset-change': 4,
      'stem-anteversion': 15,
      'aiis-prominence': 'I',
    };
    expect(computed(CHANGE, whole).assumptions).toEqual([]);
    expect(intervalOf(computed(CHANGE, whole).fact)?.[0]).toBe(some.shown);
  });

  it('does not depend on head, neck or cup', () => {
    const plan = { ...STILL, 'femoral-offset-change': 4 };
    const dressed = {
      ...plan,
      'head-diameter': 36,
      'neck-diameter': 12,
      'cup-inclination': 60,
      'cup-anteversion': 5,
    };
    expect(shown(MARGIN, dressed)).toBe(shown(MARGIN, plan));
  });

  it('breaks nothing at the greatest loss of offset that is plausible', () => {
    expect(computed(MARGIN, { ...STILL, 'femoral-offset-change': -40 }).failure).toBeUndefined();
  });
});

describe('the type of the spine', () => {
  it('is 1, 2 or 3, and not known where it was not read', () => {
    const typeOf = (values: Values): number | undefined => exactNumber(derivedFacts(values).get('aiis-type'));
    expect(TYPES.map((type) => typeOf({ 'aiis-prominence': type }))).toEqual([1, 2, 3]);
    expect(typeOf({})).toBeUndefined();
    expect(derivedFacts({}).get('aiis-type')?.state).toMatchObject({ needs: ['aiis-prominence'] });
  });
});
