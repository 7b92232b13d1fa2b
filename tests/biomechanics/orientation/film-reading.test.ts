import fc from 'fast-check';
import { Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import {
  anteversionFromEllipse,
  cupFromFilm,
  inclinationFromLongAxis,
} from '../../../src/biomechanics/orientation/film-reading.js';
import { fitEllipse, radiographicTurn, rimInSpace, throughParallelBeam } from '../rim-film.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

function size(minor: number, major: number): number {
  return anteversionFromEllipse({ minorAxis: millimetres(minor), majorAxis: millimetres(major) })
    .anteversionSize;
}

function inclination(
  longAxis: readonly [number, number],
  transverse: readonly [number, number] = [1, 0],
): number {
  const direction = ([lateral, cranial]: readonly [number, number]) => ({
    lateral: millimetres(lateral),
    cranial: millimetres(cranial),
  });
  return inclinationFromLongAxis(direction(longAxis), direction(transverse));
}

const ELLIPSES = workedExampleIds('film-reading').filter((id) => id.startsWith('ellipse-'));

describe('the size of anteversion on an AP film', () => {
  test('every recorded ellipse is run', () => {
    expect(ELLIPSES.length).toBe(4);
  });

  for (const id of ELLIPSES) {
    const { inputs, expected, label } = workedExample('film-reading', id, {
      inputs: z.object({ minor_axis_mm: z.number(), major_axis_mm: z.number() }),
      expected: z.object({ RA_magnitude: z.number() }),
    });
    test(label, () => {
      // Axes are printed to 0.01 mm: 0.0003 of the ratio, 0.01 degrees, the record's own tolerance.
      expectWithin(size(inputs.minor_axis_mm, inputs.major_axis_mm), expected.RA_magnitude, 0.01);
    });
  }

  test('does not depend on magnification and grows with the minor axis', () => {
    fc.assert(
      fc.property(evenly(0, 0.98), evenly(0.1, 300), (ratio, major) => {
        expectWithin(size(ratio * major, major), size(ratio, 1), 1e-9);
        expect(size((ratio + 0.01) * major, major)).toBeGreaterThan(size(ratio * major, major));
      }),
      { seed: 51 },
    );
  });

  test('of a rim seen face on is 90 degrees, and of one seen from its edge 0', () => {
    expect(size(50, 50)).toBe(90);
    expect(size(0, 50)).toBe(0);
  });

  test('is refused for axes that belong to no ellipse', () => {
    for (const [minor, major] of [
      [51, 50],
      [-1, 50],
      [0, 0],
      [0, -3],
    ] as const) {
      expect(() => size(minor, major)).toThrow(RangeError);
    }
  });
});

describe('inclination on an AP film', () => {
  test('is the angle of the long axis against the transverse line, from whichever end', () => {
    // Closed form.
    expectWithin(inclination([1, 1]), 45, 1e-12);
    expectWithin(inclination([-1, -1]), 45, 1e-12);
    expectWithin(inclination([0, -2]), 90, 1e-12);
    expectWithin(inclination([-1, 1]), 135, 1e-12);
    for (const lateral of [1, -1])
      for (const cranial of [0, -0]) expect(inclination([lateral, cranial])).toBe(0);
  });

  test('turns with neither film nor pelvis: turning both directions alike changes nothing', () => {
    // Closed form: an angle between two lines.
    fc.assert(
      fc.property(evenly(1, 179), evenly(-60, 60), (angle, turn) => {
        const at = (degreesFrom: number): readonly [number, number] => [
          Math.cos((degreesFrom * Math.PI) / 180),
          Math.sin((degreesFrom * Math.PI) / 180),
        ];
        expectWithin(inclination(at(angle + turn), at(turn)), angle, 1e-9);
      }),
      { seed: 52 },
    );
  });

  test('is refused without a direction, or with a transverse line that points to the midline', () => {
    expect(() => inclination([0, 0])).toThrow(RangeError);
    expect(() => inclination([1, 1], [-1, 0])).toThrow(RangeError);
    expect(() => inclination([1, 1], [0, 1])).toThrow(RangeError);
  });
});

describe('a cup read on a film', () => {
  test('taken with a parallel beam is the cup, both ways round', () => {
    // Independent: rim points turned and projected by three, an ellipse fitted by least squares. The fit of a flat
    // ellipse loses digits, so from 3 degrees on: 1e-7 degrees.
    fc.assert(
      fc.property(
        evenly(5, 175),
        evenly(3, 80),
        fc.constantFrom('anteverted' as const, 'retroverted' as const),
        (inclined, turned, version) => {
          const anteversion = version === 'anteverted' ? turned : -turned;
          const rim = rimInSpace(radiographicTurn(inclined, anteversion), 26, new Vector3(120, -30, 80));
          const seen = fitEllipse(throughParallelBeam(rim));
          const angle = (seen.angle * Math.PI) / 180;
          const cup = cupFromFilm(
            {
              inclination: degrees(inclination([Math.cos(angle), Math.sin(angle)])),
              anteversionSize: degrees(size(seen.minorAxis, seen.majorAxis)),
            },
            version,
          );
          expectWithin(cup.inclination, inclined, 1e-7);
          expectWithin(cup.anteversion, anteversion, 1e-7);
        },
      ),
      { seed: 53 },
    );
  });

  test('looks the same anteverted and retroverted: the film does not know the sign', () => {
    // Independent: the mirrored rim, projected by three.
    const film = (anteversion: number) =>
      fitEllipse(throughParallelBeam(rimInSpace(radiographicTurn(42, anteversion), 26, new Vector3())));
    expectWithin(film(18).minorAxis, film(-18).minorAxis, 1e-9);
    expectWithin(film(18).angle, film(-18).angle, 1e-9);
  });

  test('of size 90 or inclination 0 is no cup', () => {
    const read = (inclined: number, turned: number) => () =>
      cupFromFilm({ inclination: degrees(inclined), anteversionSize: degrees(turned) }, 'anteverted');
    expect(read(40, 90)).toThrow(RangeError);
    expect(read(0, 10)).toThrow(RangeError);
  });
});
