import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import type { CupOrientation } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { linerShift } from '../../../src/biomechanics/tension/liner-shift.js';

const cup = (inclination: number, anteversion: number): CupOrientation<'radiographic'> => ({
  definition: 'radiographic',
  inclination: degrees(inclination),
  anteversion: degrees(anteversion),
});
const rad = (angle: number): number => (angle * Math.PI) / 180;

describe('a lateralized liner', () => {
  it('of 4 mm at 40/15 moves the center 2.5 mm out, 3.0 down and 1.0 forward', () => {
    // Truth: clinician: clinical decisions §4; closed form n (sin RA, -cos RI cos RA, sin RI cos RA).
    const [anterior, cranial, lateral] = linerShift({ lateralization: millimetres(4), cup: cup(40, 15) });
    expect(lateral).toBeCloseTo(4 * Math.sin(rad(40)) * Math.cos(rad(15)), 12);
    expect([lateral.toFixed(1), (-cranial).toFixed(1), anterior.toFixed(1)]).toEqual(['2.5', '3.0', '1.0']);
  });

  it('moves the center by its own size, whatever the cup', () => {
    // Truth: closed form: the axis is a unit vector.
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 10, noNaN: true }),
        fc.integer({ min: 10, max: 80 }),
        fc.integer({ min: -30, max: 60 }),
        (size, inclination, anteversion) => {
          const shift = linerShift({ lateralization: millimetres(size), cup: cup(inclination, anteversion) });
          expect(Math.hypot(...shift)).toBeCloseTo(size, 9);
        },
      ),
    );
  });

  it('moves it straight out at 90/0 and straight down at 0 degrees of inclination, as a limit', () => {
    // Truth: closed form.
    const out = linerShift({ lateralization: millimetres(4), cup: cup(90, 0) });
    const down = linerShift({ lateralization: millimetres(4), cup: cup(1e-9, 0) });
    for (const [index, value] of [0, 0, 4].entries()) expect(out[index]).toBeCloseTo(value, 9);
    for (const [index, value] of [0, -4, 0].entries()) expect(down[index]).toBeCloseTo(value, 6);
  });
});
