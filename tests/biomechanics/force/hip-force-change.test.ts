import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import {
  changedArms,
  changedStance,
  type ArmReadings,
  type LeverChange,
} from '../../../src/biomechanics/force/hip-force-change.js';
import { singleLegStance, type StanceLever } from '../../../src/biomechanics/force/hip-force.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

interface Numbers {
  readonly medial?: number;
  /** Femoral offset; the femur also goes where the center goes. */
  readonly offset?: number;
  readonly lateral?: number;
  readonly distal?: number;
  readonly lean?: number;
}

function changeOf({ medial = 0, offset = 0, lateral = 0, distal = 0, lean = 0 }: Numbers): LeverChange {
  return {
    centerMedialization: millimetres(medial),
    globalOffset: millimetres(offset - medial),
    trochanter: { lateral: millimetres(lateral), distal: millimetres(distal) },
    lean: millimetres(lean),
  };
}

function leverOf(share: number, weightArm: number, abductorArm: number, angle: number): StanceLever {
  return {
    partialWeight: share,
    weightArm: millimetres(weightArm),
    abductorArm: millimetres(abductorArm),
    abductorAngle: degrees(angle),
  };
}

// Published: 10 to 85 % of a medialization made up for by offset (Terrier 2014, 10.1007/s11999-014-3787-3, abstract);
// about 1.5 % per mm of offset (10.3389/fbioe.2021.645019, table 3).
const READ: ArmReadings = { medializationShare: { low: 0.1, high: 0.85 }, percentPerMmOffset: 1.5 };
const lever = leverOf(0.81365, 109.9, 40, 21);
/** The plane lever: all of a medialization, and 1 mm of arm per mm of offset, which is 2.5 % of 40 mm. */
const PLANE: ArmReadings = { medializationShare: { low: 1, high: 1 }, percentPerMmOffset: 2.5 };

describe('changes of a textbook lever', () => {
  const number = z.number();
  const { inputs, expected, label } = workedExample('hip-force', 'lever-sensitivity-offset-and-centre', {
    inputs: z.object({ w_BW: number, a_mm: number, h_mm: number, alpha_deg: number }),
    expected: z.record(
      z.string(),
      z.object({ M_BW: number, M_changePercent: number, R_BW: number, R_changePercent: number }),
    ),
  });
  const before = leverOf(inputs.w_BW, inputs.a_mm, inputs.h_mm, inputs.alpha_deg);

  // Derived from a textbook's inputs. Tolerances of the record: 0.001 body weights, 0.1 %.
  test.each([
    ['medialise5', { medial: 5 }],
    ['medialise10', { medial: 10 }],
    ['medialise5_offset5', { medial: 5, offset: 5 }],
    ['offsetPlus5', { offset: 5 }],
    ['offsetPlus10', { offset: 10 }],
    ['offsetMinus5', { offset: -5 }],
    ['offsetMinus8', { offset: -8 }],
    ['lateralisedLiner5', { medial: -5 }],
  ] as const)(`the plane lever gives the forces of %s (${label})`, (key, change) => {
    const wanted = expected[key];
    if (wanted === undefined) throw new Error(`no case ${key}`);
    const { abductor, contact } = changedStance(before, changeOf(change), PLANE);
    const start = singleLegStance(before);
    for (const end of ['low', 'high'] as const) {
      expectWithin(abductor[end], wanted.M_BW, 0.001);
      expectWithin(contact[end], wanted.R_BW, 0.001);
      expectWithin(100 * (abductor[end] / start.abductor - 1), wanted.M_changePercent, 0.1);
      expectWithin(100 * (contact[end] / start.contact - 1), wanted.R_changePercent, 0.1);
    }
  });
});

describe('readings that differ', () => {
  // Closed forms.
  test('5 mm of offset lengthen a 40 mm arm by 3 mm as measured and by 5 mm in the plane', () => {
    const { weightArm, abductorArm } = changedArms(lever, changeOf({ offset: 5 }), READ);
    expect(weightArm).toBe(109.9);
    expectWithin(abductorArm.low, 43, 1e-12);
    expectWithin(abductorArm.high, 45, 1e-12);
  });

  test('5 mm of medialization made up for by offset bring 0.5 to 4.25 mm, never the 5 of the plane lever', () => {
    const { weightArm, abductorArm } = changedArms(lever, changeOf({ medial: 5, offset: 5 }), READ);
    expectWithin(weightArm, 104.9, 1e-12);
    expectWithin(abductorArm.low, 40.5, 1e-12);
    expectWithin(abductorArm.high, 44.25, 1e-12);
  });

  test('a medialization that nothing makes up for reaches both sides of no change', () => {
    const { abductor } = changedStance(lever, changeOf({ medial: 5 }), READ);
    const before = singleLegStance(lever).abductor;
    expect(abductor.low).toBeLessThan(before);
    expect(abductor.high).toBeGreaterThan(before);
  });

  // Closed form: the distance of the center from a line of pull at 21 degrees.
  test('the trochanter brought laterally lengthens the arm, brought distally it shortens it a little', () => {
    const sine = Math.sin((21 * Math.PI) / 180);
    const cosine = Math.cos((21 * Math.PI) / 180);
    const lateral = changedArms(lever, changeOf({ lateral: 10 }), READ).abductorArm;
    expectWithin(lateral.low, 40 + 10 * cosine, 1e-12);
    expect(lateral.high).toBe(lateral.low);
    expectWithin(changedArms(lever, changeOf({ distal: 10 }), READ).abductorArm.low, 40 - 10 * sine, 1e-12);
  });

  test('no change changes nothing', () => {
    const { abductor, contact } = changedStance(lever, changeOf({}), READ);
    const before = singleLegStance(lever);
    expect(abductor).toEqual({ low: before.abductor, high: before.abductor });
    expect(contact).toEqual({ low: before.contact, high: before.contact });
  });
});

describe('abductor arms measured in walking', () => {
  const triple = z.array(z.number()).length(3);
  const { inputs, expected, label } = workedExample('hip-force', 'moment-arm-percent-per-mm', {
    inputs: z.object({ offsetDifference_mm_at_minus5_0_plus5: z.record(z.string(), triple) }),
    expected: z.object({ percentPerMm: z.record(z.string(), z.number()), midpointErrorMax_mm: z.number() }),
  });
  const muscles = Object.entries(inputs.offsetDifference_mm_at_minus5_0_plus5);

  test.each(muscles)(`%s has the slope of the table (${label})`, (muscle, offsets) => {
    const [low, middle, high] = offsets as [number, number, number];
    expectWithin(10 / (high - low), expected.percentPerMm[muscle] ?? Number.NaN, 0.01);
    // The table is linear within its printed tenth of a millimetre.
    expectWithin(middle, (low + high) / 2, expected.midpointErrorMax_mm + 1e-9);
  });

  // The slope used by the rulebook, 1.5 %/mm, is rounded from the gluteus medius, 1.47.
  test(`the arm grows by 5 % over the offset the table gives for the gluteus medius (${label})`, () => {
    const middle = inputs.offsetDifference_mm_at_minus5_0_plus5['gluteusMediusMiddle'] ?? [];
    const offset = ((middle[2] ?? Number.NaN) - (middle[0] ?? Number.NaN)) / 2;
    const { abductorArm } = changedArms(lever, changeOf({ offset }), READ);
    expectWithin(100 * (abductorArm.low / 40 - 1), 5, 0.15);
  });

  test('no muscle of the table reaches the 2.5 % per mm of the plane lever', () => {
    expect(muscles).toHaveLength(8);
    for (const percent of Object.values(expected.percentPerMm)) expect(percent).toBeLessThan(2.5);
  });
});

describe('direction of each change', () => {
  const start = fc.record({
    weightArm: fc.double({ min: 80, max: 130, noNaN: true }),
    abductorArm: fc.double({ min: 40, max: 70, noNaN: true }),
    angle: fc.double({ min: 0, max: 40, noNaN: true }),
  });
  const move = fc.double({ min: -6, max: 6, noNaN: true });
  const more = fc.double({ min: 0.01, max: 6, noNaN: true });

  function expectLower(from: StanceLever, less: LeverChange, than: LeverChange): void {
    const [lower, higher] = [changedStance(from, less, READ), changedStance(from, than, READ)];
    for (const force of ['abductor', 'contact'] as const) {
      expect(lower[force].low).toBeLessThan(higher[force].low);
      expect(lower[force].high).toBeLessThan(higher[force].high);
      expect(lower[force].low).toBeLessThanOrEqual(lower[force].high);
    }
  }

  test('less offset, more force', () => {
    fc.assert(
      fc.property(start, move, more, ({ weightArm, abductorArm, angle }, offset, step) => {
        const from = leverOf(0.8, weightArm, abductorArm, angle);
        expectLower(from, changeOf({ offset: offset + step }), changeOf({ offset }));
      }),
      { seed: 44 },
    );
  });

  test('a more medial center made up for by offset, less force', () => {
    fc.assert(
      fc.property(start, move, more, ({ weightArm, abductorArm, angle }, medial, step) => {
        const from = leverOf(0.8, weightArm, abductorArm, angle);
        const further = changeOf({ medial: medial + step, offset: medial + step });
        expectLower(from, further, changeOf({ medial, offset: medial }));
      }),
      { seed: 45 },
    );
  });

  test('a more medial center that takes the femur along, less force in the plane lever', () => {
    fc.assert(
      fc.property(move, more, (medial, step) => {
        const further = changedStance(lever, changeOf({ medial: medial + step }), PLANE);
        const nearer = changedStance(lever, changeOf({ medial }), PLANE);
        expect(further.contact.high).toBeLessThan(nearer.contact.low);
        expect(further.abductor.high).toBeLessThan(nearer.abductor.low);
      }),
      { seed: 46 },
    );
  });

  test('leaning over the hip, less force; the trochanter further lateral, less force', () => {
    fc.assert(
      fc.property(start, move, more, ({ weightArm, abductorArm, angle }, amount, step) => {
        const from = leverOf(0.8, weightArm, abductorArm, angle);
        expectLower(from, changeOf({ lean: amount + step }), changeOf({ lean: amount }));
        expectLower(from, changeOf({ lateral: amount + step }), changeOf({ lateral: amount }));
      }),
      { seed: 47 },
    );
  });
});

describe('domain errors', () => {
  test.each([
    [{ lean: 120 }, READ, 'weight arm'],
    [{ offset: -50 }, READ, 'abductor arm'],
    [{}, { ...READ, medializationShare: { low: 0.5, high: 0.1 } }, 'share of a medialization'],
    [{}, { ...READ, medializationShare: { low: 0.5, high: 1.1 } }, 'share of a medialization'],
    [{}, { ...READ, percentPerMmOffset: -1 }, 'percent per millimetre'],
  ])('a change of %o with readings %o is refused with a message about the %s', (change, readings, part) => {
    expect(() => changedStance(lever, changeOf(change), readings)).toThrow(RangeError);
    expect(() => changedStance(lever, changeOf(change), readings)).toThrow(part);
  });
});
