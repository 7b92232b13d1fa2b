import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import { cupAxis, cupOrientationFromAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../../../src/biomechanics/orientation/functional-cup.js';
import { pelvicTiltChange } from '../../../src/biomechanics/spine/pelvic-tilt-change.js';

describe('change of pelvic tilt', () => {
  it('is negative when the pelvis rolls back, and the tilt itself for angles against the pelvis', () => {
    // Truth: closed form; clinical decisions §4: anterior positive, an APP-referenced angle uses the tilt itself.
    expect(pelvicTiltChange({ reference: degrees(2), posture: degrees(-11) })).toBe(-13);
    expect(pelvicTiltChange({ reference: degrees(0), posture: degrees(-22) })).toBe(-22);
  });

  it('is what operative anteversion of a cup loses', () => {
    // Truth: closed form, Murray 1993: a turn of the pelvis about the transverse axis changes operative anteversion by just that.
    const tilt = fc.double({ min: -30, max: 30, noNaN: true });
    fc.assert(
      fc.property(tilt, tilt, (reference, posture) => {
        const operative = (postureTilt: number): number =>
          cupOrientationFromAxis(
            cupAxis(
              functionalCupOrientation(
                { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(15) },
                { referenceTilt: degrees(reference), postureTilt: degrees(postureTilt) },
              ),
            ),
            'operative',
          ).anteversion;
        const change = pelvicTiltChange({ reference: degrees(reference), posture: degrees(posture) });
        expect(operative(reference) - operative(posture)).toBeCloseTo(change, 6);
      }),
    );
  });
});
