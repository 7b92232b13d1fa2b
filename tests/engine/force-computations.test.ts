import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { expectWithin } from '../biomechanics/tolerance.js';
import { workedExample } from '../biomechanics/worked-example.js';
import { intervalOf } from '../facts/records.js';
import { evidenceParameters } from '../rulebook/evidence.js';
import { shipped } from '../rulebook/shipped.js';
import { computed, needsOf, shown } from './computed-records.js';

/** Muscle and joint force of the textbook lever after the changes that a record states. */

const STILL = { 'femoral-offset-change': 0, 'hip-center-medialization': 0 };
const FORCES = ['hip-contact-force', 'abductor-force'] as const;

function ends(id: string, values: Readonly<Record<string, number>>): readonly [number, number] {
  return [shown(id, values), shown(`${id}-high`, values)];
}

describe('the lever unchanged', () => {
  const { expected, label } = workedExample('hip-force', 'debrunner-five-sixths', {
    inputs: z.unknown(),
    expected: z.object({ d5_mm: z.number(), M_BW: z.number(), R_BW: z.number() }),
  });

  it(`has the forces of the textbook, with no spread (${label})`, () => {
    // Tolerance of the record: 0.001 body weights.
    for (const end of ends('abductor-force', STILL)) expectWithin(end, expected.M_BW, 0.001);
    for (const end of ends('hip-contact-force', STILL)) expectWithin(end, expected.R_BW, 0.001);
    for (const id of FORCES) expect(ends(`${id}-change`, STILL)).toEqual([0, 0]);
    expect(shipped.parameters.get('stance-weight-arm')?.value).toBe(expected.d5_mm);
  });

  it('is the one of the dossier, its range of medialization that of the dossier too', () => {
    const value = (id: string): unknown => shipped.parameters.get(id)?.value;
    expect(evidenceParameters.get('static-force-model-arms')?.value).toEqual({
      partialWeight: value('stance-partial-weight'),
      bodyArmFactor: (value('stance-weight-arm') as number) / (170 / 2),
      abductorAngleDeg: value('stance-abductor-angle'),
      abductorArmMm: value('stance-abductor-arm'),
    });
    expect(evidenceParameters.get('medialization-moment-arm-share')?.value).toEqual([
      value('medialization-moment-arm-share-low'),
      value('medialization-moment-arm-share-high'),
    ]);
  });
});

describe('the lever changed', () => {
  it('by 5 mm of offset has an arm of 43 to 45 mm: as measured, 1.5 % per mm, and as in the plane', () => {
    // Truth: closed form: M = S a / h, R = hypot(S + M cos 21, M sin 21).
    const plan = { ...STILL, 'femoral-offset-change': 5 };
    const moment = 0.8333 * 108.8;
    const [low, high] = ends('abductor-force', plan);
    expectWithin(low, moment / 45, 1e-6);
    expectWithin(high, moment / 43, 1e-6);
    const angle = (21 * Math.PI) / 180;
    const joint = (pull: number): number =>
      Math.hypot(0.8333 + pull * Math.cos(angle), pull * Math.sin(angle));
    const contact = ends('hip-contact-force', plan);
    expectWithin(contact[0], joint(moment / 45), 1e-6);
    expectWithin(contact[1], joint(moment / 43), 1e-6);
    expect(ends('abductor-force-change', plan)).toEqual([
      Math.round(100 * (40 / 45 - 1)),
      Math.round(100 * (40 / 43 - 1)),
    ]);
  });

  it('by a center 5 mm medial that offset makes up for gains 10 to 85 % of it in the arm', () => {
    const [low, high] = ends('abductor-force', { 'femoral-offset-change': 5, 'hip-center-medialization': 5 });
    expectWithin(low, (0.8333 * 103.8) / 44.25, 1e-6);
    expectWithin(high, (0.8333 * 103.8) / 40.5, 1e-6);
  });

  it('by a center set medially that nothing makes up for reaches both sides of no change', () => {
    const [low, high] = ends('abductor-force-change', { ...STILL, 'hip-center-medialization': 8 });
    expect(low).toBeLessThan(0);
    expect(high).toBeGreaterThan(0);
  });

  it('by a lateralized liner is that of a center as far lateral, which the femur follows', () => {
    const liner = { 'liner-lateralization': 4, 'cup-inclination': 40, 'cup-anteversion': 15 };
    const lateral = 4 * Math.cos((15 * Math.PI) / 180) * Math.sin((40 * Math.PI) / 180);
    const alike = { ...STILL, 'hip-center-medialization': -lateral };
    for (const id of FORCES) {
      const [low, high] = ends(id, { ...STILL, ...liner });
      expectWithin(low, ends(id, alike)[0], 1e-6);
      expectWithin(high, ends(id, alike)[1], 1e-6);
    }
  });

  it('grows the force with less offset and lessens it with more', () => {
    for (const id of FORCES) {
      const at = (offset: number): readonly [number, number] =>
        ends(id, { ...STILL, 'femoral-offset-change': offset });
      expect(at(-8)[0]).toBeGreaterThan(at(0)[0]);
      expect(at(8)[1]).toBeLessThan(at(0)[1]);
    }
  });
});

describe('a force', () => {
  it('is unknown where neither offset nor center was stated', () => {
    const { shown: value, fact } = computed('hip-contact-force', {});
    expect(value).toBeUndefined();
    expect(fact.state.status).toBe('unknown');
  });

  it('is shown with the center said to be where it was, and decides nothing without it', () => {
    const found = computed('abductor-force', { 'femoral-offset-change': 5 });
    expect(found.shown).toBeGreaterThan(0);
    expect(found.assumptions).toEqual(['hip center where it was, its medialization not stated']);
    expect(intervalOf(found.fact)).toBeUndefined();
    expect(needsOf(found)).toEqual(['hip-center-medialization']);
  });

  it('is not told of an advanced trochanter: lateral and distal do not do the same', () => {
    const found = computed('abductor-force', { ...STILL, 'trochanter-advancement': 10 });
    expect(found.shown).toBeUndefined();
    expect(needsOf(found)).toContain('trochanter-advancement');
    expect(shown('abductor-force', { ...STILL, 'trochanter-advancement': 0 })).toBeGreaterThan(0);
  });

  it('is not told where the muscle would pull on the far side of the hip, and nothing breaks', () => {
    const lost = { 'femoral-offset-change': -40, 'hip-center-medialization': 40 };
    for (const id of FORCES) {
      const found = computed(id, lost);
      expect(found.shown).toBeUndefined();
      expect(found.fact.state.status).toBe('unknown');
    }
  });
});
