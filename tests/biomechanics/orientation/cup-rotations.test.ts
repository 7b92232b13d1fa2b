import fc from 'fast-check';
import { Quaternion, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { degrees } from '../../../src/base/units.js';
import {
  cupAxis,
  cupOrientationFromAxis,
  type CupDefinition,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import { pelvisVector } from '../../../src/biomechanics/vector.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';

// Independent implementation: three's quaternions in doubles, each definition as the two turns it is named for, of a
// cup that opens straight down. No equation of the library is used on this side.
const ANTERIOR = new Vector3(1, 0, 0);
const CRANIAL = new Vector3(0, 1, 0);
const LATERAL = new Vector3(0, 0, 1);
const CAUDAL = new Vector3(0, -1, 0);

const COUNT = 20_000;
/** Degrees, as the geometry is asked to agree. */
const AGREED = 1e-9;

function turn(about: Vector3, angle: number): Quaternion {
  return new Quaternion().setFromAxisAngle(about, (angle * Math.PI) / 180);
}

/**
 * Inclination turns a cup outward about the antero-posterior axis, right-handed about -X. Radiographic anteversion
 * comes before it, about the transverse axis, so that inclination is seen from the front; operative anteversion after
 * it about the transverse axis, as flexion does; anatomic after it about the long axis of the body.
 */
function threeAxis({ definition, inclination, anteversion }: CupOrientation<CupDefinition>): Vector3 {
  const outward = turn(ANTERIOR, 0 - inclination);
  switch (definition) {
    case 'radiographic':
      return CAUDAL.clone().applyQuaternion(outward.multiply(turn(LATERAL, anteversion)));
    case 'operative':
      return CAUDAL.clone().applyQuaternion(turn(LATERAL, anteversion).multiply(outward));
    case 'anatomic':
      return CAUDAL.clone().applyQuaternion(turn(CRANIAL, anteversion).multiply(outward));
    default:
      return definition satisfies never;
  }
}

/** Angle between two directions in degrees, from sine and cosine: exact also near 0. */
function between(a: Vector3, b: Vector3): number {
  return (Math.atan2(a.clone().cross(b).length(), a.dot(b)) * 180) / Math.PI;
}

const DEFINITIONS = ['radiographic', 'operative', 'anatomic'] as const;

/** Random cups over the whole domain of a definition; the edges, where one angle loses its meaning, are left out. */
function randomCups(definition: CupDefinition, seed: number): readonly CupOrientation<CupDefinition>[] {
  const operative = definition === 'operative';
  const inclination = evenly(0.01, operative ? 89.99 : 179.99);
  const anteversion = operative ? evenly(-180, 180) : evenly(-89.99, 89.99);
  const pair = fc.tuple(inclination, anteversion);
  return fc.sample(pair, { seed, numRuns: COUNT }).map(([inclined, turned]) => ({
    definition,
    inclination: degrees(inclined),
    anteversion: degrees(turned),
  }));
}

function largest(values: readonly number[]): number {
  return values.reduce((most, value) => Math.max(most, value), 0);
}

describe.each(DEFINITIONS.map((definition, index) => ({ definition, seed: 81 + index })))(
  '20,000 random $definition cups',
  ({ definition, seed }) => {
    const cups = randomCups(definition, seed);

    test('open the way three turns them', () => {
      const errors = cups.map((cup) => between(new Vector3(...cupAxis(cup)), threeAxis(cup)));
      expect(errors.length).toBe(COUNT);
      expectWithin(largest(errors), 0, AGREED);
    });

    test.each(DEFINITIONS)('restated as %s are turned by three to where they were', (other) => {
      const errors = cups.map((cup) =>
        between(threeAxis(cupOrientationFromAxis(cupAxis(cup), other)), threeAxis(cup)),
      );
      expectWithin(largest(errors), 0, AGREED);
    });
  },
);

describe('20,000 random cups as three turns them', () => {
  test.each(DEFINITIONS)('have the %s angles they were turned by', (definition) => {
    // Away from the edges, where an angle has no meaning: there a direction right to the last bit leaves the angle
    // open. An angle is then right to 1e-9 degrees by itself.
    const wide = randomCups(definition, 91).filter(
      ({ inclination, anteversion }) =>
        inclination > 1 &&
        (definition === 'operative' ? inclination < 89 : inclination < 179 && Math.abs(anteversion) < 89),
    );
    const errors = wide.map((cup) => {
      const { x, y, z } = threeAxis(cup);
      const found = cupOrientationFromAxis(pelvisVector(x, y, z), definition);
      const turned = Math.abs(found.anteversion - cup.anteversion);
      return Math.max(Math.abs(found.inclination - cup.inclination), Math.min(turned, 360 - turned));
    });
    expect(wide.length).toBeGreaterThan(19_000);
    expectWithin(largest(errors), 0, AGREED);
  });
});
