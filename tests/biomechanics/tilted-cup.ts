import { degrees } from '../../src/base/units.js';
import type { CupOrientation } from '../../src/biomechanics/orientation/cup-orientation.js';
import { functionalCupOrientation } from '../../src/biomechanics/orientation/functional-cup.js';

type Cup = CupOrientation<'radiographic'>;

/** A radiographic cup of plain numbers. */
export function radiographicCup(inclination: number, anteversion: number): Cup {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

/** The cup as a film shows it after a change of anterior tilt. */
export function seen(from: Cup, referenceTilt: number, postureTilt: number): Cup {
  return functionalCupOrientation(from, {
    referenceTilt: degrees(referenceTilt),
    postureTilt: degrees(postureTilt),
  });
}

/** The posterior tilt that brings anteversion from one reading to another, by bisection: anteversion rises with it. */
export function tiltBetween(standing: Cup, seatedAnteversion: number): number {
  let [low, high] = [0, 60];
  for (let turn = 0; turn < 60; turn += 1) {
    const middle = (low + high) / 2;
    if (seen(standing, 0, -middle).anteversion < seatedAnteversion) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
