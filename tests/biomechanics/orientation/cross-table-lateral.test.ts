import fc from 'fast-check';
import { Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees } from '../../../src/base/units.js';
import {
  radiographicToOperative,
  type CupOrientation,
} from '../../../src/biomechanics/orientation/cup-orientation.js';
import {
  anteversionFromCrossTableLateral,
  versionOnCrossTableLateral,
} from '../../../src/biomechanics/orientation/cross-table-lateral.js';
import { recordNamed } from '../../rulebook/evidence.js';
import { cupFromCtVersion } from '../pelvic-film.js';
import { radiographicTurn } from '../rim-film.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

function cup(inclination: number, anteversion: number): CupOrientation<'radiographic'> {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

function seen(inclination: number, anteversion: number, horizontal: number): number {
  return versionOnCrossTableLateral(cup(inclination, anteversion), degrees(horizontal));
}

function readBack(version: number, inclination: number, horizontal: number): number {
  return anteversionFromCrossTableLateral({
    version: degrees(version),
    inclination: degrees(inclination),
    imageHorizontal: degrees(horizontal),
  });
}

const anyInclination = evenly(10, 80);
const anyAnteversion = evenly(-60, 60);
const anyHorizontal = evenly(-5, 90);

const RECORDS = workedExampleIds('film-reading').filter((id) => id.startsWith('cross-table-lateral-'));

describe('version on a cross-table lateral film', () => {
  test('every recorded beam is run', () => {
    expect(RECORDS.length).toBe(3);
  });

  for (const id of RECORDS) {
    const { inputs, expected, label } = workedExample('film-reading', id, {
      inputs: z.object({ RI: z.number(), RA: z.number(), phi: z.number() }),
      expected: z.object({ version_read: z.number() }),
    });
    test(label, () => {
      // Printed to two decimals.
      const version = seen(inputs.RI, inputs.RA, inputs.phi);
      expectWithin(version, expected.version_read, 0.005 + 1e-9);
      expectWithin(readBack(version, inputs.RI, inputs.phi), inputs.RA, 1e-9);
    });
  }

  test('is radiographic anteversion along the plane of the cup, and operative on a true lateral', () => {
    // Closed form, the two limits of the equation.
    fc.assert(
      fc.property(anyInclination, anyAnteversion, (ri, ra) => {
        expectWithin(seen(ri, ra, ri), ra, 1e-9);
        expectWithin(seen(ri, ra, 0), radiographicToOperative(cup(ri, ra)).anteversion, 1e-9);
      }),
      { seed: 54 },
    );
  });

  test('is the angle of the cup axis in the image, as three projects it', () => {
    // Independent implementation: three turns the axis, and takes its parts along the two directions of the image.
    fc.assert(
      fc.property(anyInclination, anyAnteversion, anyHorizontal, (ri, ra, phi) => {
        const axis = new Vector3(0, -1, 0).applyQuaternion(radiographicTurn(ri, ra));
        const horizontal = new Vector3(0, -1, 0).applyQuaternion(radiographicTurn(phi, 0));
        const angle = Math.atan2(axis.dot(new Vector3(1, 0, 0)), axis.dot(horizontal));
        expectWithin(seen(ri, ra, phi), (angle * 180) / Math.PI, 1e-9);
      }),
      { seed: 55 },
    );
  });

  test('has the sign of the anteversion, and gives it back with its size', () => {
    fc.assert(
      fc.property(anyInclination, anyAnteversion, anyHorizontal, (ri, ra, phi) => {
        const version = seen(ri, ra, phi);
        expect(Math.sign(version)).toBe(Math.sign(ra));
        expectWithin(readBack(version, ri, phi), ra, 1e-9);
      }),
      { seed: 56 },
    );
  });

  test('with a beam at 45 degrees is within half a degree of radiographic anteversion up to 30, inclination 35 to 55', () => {
    for (let ri = 35; ri <= 55; ri += 1) {
      for (let version = -30; version <= 30; version += 1) {
        expectWithin(readBack(version, ri, 45), version, 0.5);
      }
    }
  });

  test('is refused for a film that looks at the cup from behind', () => {
    expect(() => seen(40, 15, 130)).toThrow(RangeError);
    expect(() => seen(40, 15, -50)).toThrow(RangeError);
    expect(() => readBack(15, 40, 130)).toThrow(RangeError);
    expect(() => readBack(90, 40, 45)).toThrow(RangeError);
    expect(() => seen(0, 15, 45)).toThrow(RangeError);
  });

  test('does not explain a published mean: 21.7 degrees on the film, where CT makes it 15.9 to 17.3 (Noback 2016)', () => {
    // Published: 10.1016/j.arth.2016.03.006, abstract: 150 hips, 23.8 degrees on CT, 21.7 on the cross-table lateral.
    // Only the abstract was read: inclination 40-45, a beam at 45 degrees and CT version as the anatomic one are
    // assumptions made here.
    const { value } = z
      .object({ value: z.object({ ct: z.number(), crossTableLateral: z.number() }) })
      .parse(recordNamed('cup-version-by-projection-2016'));
    const fromCt = [40, 45].map((ri) =>
      versionOnCrossTableLateral(cupFromCtVersion(ri, value.ct), degrees(45)),
    );
    expectWithin(fromCt[0] ?? NaN, 15.9, 0.05);
    expectWithin(fromCt[1] ?? NaN, 17.3, 0.05);
    // A disagreement kept in view, 4 to 6 degrees. Tilt of the pelvis on the table stays in the reading of a lateral
    // film and not in one against the pelvis; and what the paper called version on CT is not known here.
    for (const version of fromCt) {
      expect(value.crossTableLateral - version).toBeGreaterThan(4);
      expect(value.crossTableLateral - version).toBeLessThan(6);
    }
  });
});
