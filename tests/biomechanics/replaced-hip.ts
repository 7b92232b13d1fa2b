import { degrees, millimetres } from '../../src/base/units.js';
import type { Liner, RimElevation } from '../../src/biomechanics/range/liner.js';
import type { Neck } from '../../src/biomechanics/range/neck.js';
import { readyHip, type ReadyHip, type ReplacedHip } from '../../src/biomechanics/range/prosthetic-margin.js';

/** Plain numbers of a replaced hip: millimetres and degrees. */
export interface HipNumbers {
  readonly inclination: number;
  readonly anteversion: number;
  readonly stem: number;
  readonly neckShaft: number;
  readonly head: number;
  readonly neck: number;
}

/** 36 mm head on a 12 mm neck, cup 40/20, stem 15, neck-shaft angle 135. */
export const TEXTBOOK: HipNumbers = {
  inclination: 40,
  anteversion: 20,
  stem: 15,
  neckShaft: 135,
  head: 36,
  neck: 12,
};

export function liner(bore: number, more: Partial<Omit<Liner, 'bore'>> = {}): Liner {
  return {
    bore: millimetres(bore),
    centerOffset: millimetres(0),
    wall: millimetres(6),
    opening: degrees(180),
    ...more,
  };
}

export function lip(shape: RimElevation['shape'], azimuth: number, ramp = 0): RimElevation {
  return { shape, angle: degrees(15), arc: degrees(90), azimuth: degrees(azimuth), ramp: degrees(ramp) };
}

export function replaced(
  numbers: HipNumbers,
  more: { readonly liner?: Partial<Omit<Liner, 'bore'>>; readonly neck?: Partial<Neck> } = {},
): ReplacedHip {
  return {
    cup: {
      definition: 'radiographic',
      inclination: degrees(numbers.inclination),
      anteversion: degrees(numbers.anteversion),
    },
    liner: liner(numbers.head, more.liner),
    stem: { anteversion: degrees(numbers.stem), neckShaftAngle: degrees(numbers.neckShaft) },
    neck: { diameter: millimetres(numbers.neck), ...more.neck },
  };
}

export function ready(...input: Parameters<typeof replaced>): ReadyHip {
  return readyHip(replaced(...input));
}
