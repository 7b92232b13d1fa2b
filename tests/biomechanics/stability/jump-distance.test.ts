import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import { cupAxis, cupOrientationFromAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { jump, jumpAnatomic, jumpSensitivities, planarInclination } from '../anatomic-jump.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

// Figures are printed to two decimals.
const PRINTED = 0.005 + 1e-9;

describe('worked values on radiographic input', () => {
  // Closed form, ours; 28, 36 mm at 40 also stand in record jd-table-offset-0 (Sariali 2009, from memory) at anteversion 0.
  test.each([
    [36, 60, 9.32],
    [36, 40, 15.21],
    [28, 40, 11.83],
    [22, 40, 9.3],
    [36, 58, 9.92],
    [36, 45, 13.78],
  ])('a %s mm head in a cup at %s degrees has a jump distance of %s mm', (head, inclination, expected) => {
    expectWithin(jump(head, inclination), expected, PRINTED);
  });

  // Closed form, ours.
  test('anatomic 61.12/17.19 gives the distance of its radiographic equal, 60/15', () => {
    expectWithin(jumpAnatomic(36, 61.12, 17.19), 9.32, PRINTED);
    expectWithin(jumpAnatomic(36, 61.12, 17.19), jump(36, 60), 0.005);
  });

  test('anteversion at constant radiographic inclination does not change it', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 10, max: 80, noNaN: true }),
        fc.double({ min: -40, max: 40, noNaN: true }),
        (ri, ra) => {
          const axis = cupAxis({
            definition: 'radiographic',
            inclination: degrees(ri),
            anteversion: degrees(ra),
          });
          const { inclination, anteversion } = cupOrientationFromAxis(axis, 'anatomic');
          expectWithin(jumpAnatomic(36, inclination, anteversion), jump(36, ri), 1e-9);
        },
      ),
    );
  });
});

describe('published sensitivities, on anatomic input', () => {
  const { inputs, expected, label } = workedExample('jump-distance', 'jd-sensitivities', {
    inputs: z.object({ headDiameterMm: z.number(), offsetMm: z.literal(0) }),
    expected: z.object({
      abductionSlopeMmPerDeg: z.number(),
      anteversionSlopeMmPerDeg: z.number(),
      perMmDiameterAt45: z.number(),
      perMmDiameterAt60: z.number(),
      perMmOffset: z.number(),
    }),
  });
  const slopes = jumpSensitivities(inputs.headDiameterMm);

  // The figures are read in the abstract; the equation is from memory. Printed to one or two digits: 0.02, and 0.05 for 0.4.
  test(`a degree of abduction costs 0.25 mm (${label})`, () => {
    expectWithin(slopes.abduction, expected.abductionSlopeMmPerDeg, 0.02);
  });

  test(`a degree of anatomic anteversion brings 0.05 mm (${label})`, () => {
    // Half the last printed digit: a tolerance of 0.02 would nearly admit half the slope.
    expectWithin(slopes.anteversion, expected.anteversionSlopeMmPerDeg, 0.005);
  });

  test(`a millimetre of diameter brings 0.4 mm at 45 degrees of abduction (${label})`, () => {
    expectWithin(slopes.diameterAt45, expected.perMmDiameterAt45, 0.05);
  });

  test(`a millimetre of diameter brings 0.25 mm at 60 degrees of abduction (${label})`, () => {
    expectWithin(slopes.diameterAt60, expected.perMmDiameterAt60, 0.02);
  });

  test(`a millimetre of outward head center costs 0.92 mm (${label})`, () => {
    expectWithin(slopes.offset, expected.perMmOffset, 0.02);
  });
});

describe('the same slopes from an independent implementation', () => {
  const { inputs, notes, label } = workedExample('jump-distance', 'jd-sensitivities', {
    inputs: z.object({ headDiameterMm: z.number() }),
    expected: z.unknown(),
    notes: z.object({
      computed: z.object({
        abductionSlope0to80: z.number(),
        anteversionSlope0to40At45: z.number(),
        perMmDiameterAt45: z.number(),
        perMmDiameterAt60: z.number(),
        perMmOffset0to1: z.number(),
      }),
    }),
  });
  const head = inputs.headDiameterMm;
  const { computed } = notes;

  // Printed to three decimals.
  test.each([
    [
      'abduction 0 to 80',
      (jumpAnatomic(head, 80, 0) - jumpAnatomic(head, 0, 0)) / 80,
      computed.abductionSlope0to80,
    ],
    [
      'anteversion 0 to 40',
      (jumpAnatomic(head, 45, 40) - jumpAnatomic(head, 45, 0)) / 40,
      computed.anteversionSlope0to40At45,
    ],
    ['diameter at 45', jumpAnatomic(head, 45, 0) / head, computed.perMmDiameterAt45],
    ['diameter at 60', jumpAnatomic(head, 60, 0) / head, computed.perMmDiameterAt60],
    ['offset 0 to 1 mm', jumpAnatomic(head, 45, 0, 1) - jumpAnatomic(head, 45, 0), computed.perMmOffset0to1],
  ])(`the slope over %s agrees to three decimals (${label})`, (_over, slope, expected) => {
    expectWithin(slope, expected, 0.0005 + 1e-9);
  });
});

const LIST = z.array(z.number());

describe('recorded tables', () => {
  const anteverted = workedExample('jump-distance', 'jd-table-offset-0', {
    inputs: z.object({
      headDiameterMm: LIST,
      abductionDeg: LIST,
      anteversionDeg: LIST,
      offsetMm: z.literal(0),
    }),
    expected: z.object({ table: z.record(z.string(), z.record(z.string(), LIST)) }),
  });

  test(`every head, abduction and anatomic anteversion of the table has its distance (${anteverted.label})`, () => {
    const { headDiameterMm, abductionDeg, anteversionDeg } = anteverted.inputs;
    let compared = 0;
    for (const head of headDiameterMm) {
      for (const abduction of abductionDeg) {
        const row = anteverted.expected.table[String(head)]?.[String(abduction)];
        anteversionDeg.forEach((anteversion, index) => {
          expectWithin(jumpAnatomic(head, abduction, anteversion), row?.[index] ?? Number.NaN, PRINTED);
          compared += 1;
        });
      }
    }
    expect(compared).toBe(6 * 9 * 6);
  });

  const offset = workedExample('jump-distance', 'jd-table-offset', {
    inputs: z.object({
      headDiameterMm: LIST,
      abductionDeg: z.number(),
      anteversionDeg: z.number(),
      offsetMm: LIST,
    }),
    expected: z.object({ table: z.record(z.string(), LIST) }),
  });

  test(`every head and center offset of the table has its distance (${offset.label})`, () => {
    const { headDiameterMm, abductionDeg, anteversionDeg, offsetMm } = offset.inputs;
    let compared = 0;
    for (const head of headDiameterMm) {
      offsetMm.forEach((centerOffset, index) => {
        const expected = offset.expected.table[String(head)]?.[index] ?? Number.NaN;
        expectWithin(jumpAnatomic(head, abductionDeg, anteversionDeg, centerOffset), expected, PRINTED);
        compared += 1;
      });
    }
    expect(compared).toBe(6 * 7);
  });

  const steep = workedExample('jump-distance', 'jd-large-head-steep-cup', {
    inputs: z.object({ from: z.number(), to: z.number(), anteversionDeg: z.number(), abductionDeg: LIST }),
    expected: z.object({ gainMm: LIST.length(3) }),
  });

  test(`a larger head gains less in a steeper cup (${steep.label})`, () => {
    const { from, to, anteversionDeg, abductionDeg } = steep.inputs;
    expect(abductionDeg).toHaveLength(3);
    abductionDeg.forEach((abduction, index) => {
      const gain =
        jumpAnatomic(to, abduction, anteversionDeg) - jumpAnatomic(from, abduction, anteversionDeg);
      expectWithin(gain, steep.expected.gainMm[index] ?? Number.NaN, PRINTED);
    });
  });

  const planar = workedExample('jump-distance', 'jd-planar-inclination', {
    inputs: z.object({ cases: z.array(z.tuple([z.number(), z.number()])).length(4) }),
    expected: z.object({ psiDeg: LIST.length(4) }),
  });

  test(`the planar inclination of anatomic angles is the radiographic inclination (${planar.label})`, () => {
    planar.inputs.cases.forEach(([abduction, anteversion], index) => {
      expectWithin(
        planarInclination(abduction, anteversion),
        planar.expected.psiDeg[index] ?? Number.NaN,
        PRINTED,
      );
    });
  });
});

describe('properties', () => {
  const head = fc.double({ min: 22, max: 48, noNaN: true });
  const inclination = fc.double({ min: 0, max: 70, noNaN: true });
  const offset = fc.double({ min: 0, max: 3, noNaN: true });
  const step = fc.double({ min: 0.01, max: 2, noNaN: true });

  test('it falls with inclination and with an outward center and grows with the head', () => {
    fc.assert(
      fc.property(head, inclination, offset, step, (h, ri, o, more) => {
        const distance = jump(h, ri, o);
        expect(jump(h, ri + more, o)).toBeLessThan(distance);
        expect(jump(h, ri, o + more)).toBeLessThan(distance);
        expect(jump(h + more, ri, o)).toBeGreaterThan(distance);
      }),
    );
  });

  test('a cup that faces straight down holds the head by its radius times the square root of two', () => {
    expectWithin(jump(36, 0), 18 * Math.SQRT2, 1e-12);
  });

  test.each([
    [90, 0],
    [100, 0],
    [179, 0],
    [80, 4],
  ])(
    'a cup at %s degrees with its center %s mm outside holds nothing: 0, not a negative distance',
    (ri, o) => {
      expect(jump(36, ri, o)).toBe(0);
    },
  );

  test('the distance falls to 0 without a jump as the cup reaches horizontal', () => {
    // 2 R sin(x/2) is about R x: 18 mm times 1e-6 degrees.
    expectWithin(jump(36, 90 - 1e-6), (18 * 1e-6 * Math.PI) / 180, 1e-12);
  });
});

describe('domain errors', () => {
  test.each([
    [0, 40, 0, 'head diameter'],
    [-36, 40, 0, 'head diameter'],
    [36, 40, 18, 'center offset'],
    [36, 40, -18, 'center offset'],
    [36, -1, 0, 'radiographic inclination'],
    [36, 180, 0, 'radiographic inclination'],
  ])('head %s, inclination %s, center offset %s is refused with a message about the %s', (h, ri, o, part) => {
    expect(() => jump(h, ri, o)).toThrow(RangeError);
    expect(() => jump(h, ri, o)).toThrow(part);
  });
});
