import fc from 'fast-check';
import { Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { degrees, millimetres } from '../../../src/base/units.js';
import {
  cupFromProjectedRim,
  cupsFromProjectedRim,
} from '../../../src/biomechanics/orientation/cup-from-projected-rim.js';
import type { CupOrientation } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { anteversionFromEllipse } from '../../../src/biomechanics/orientation/film-reading.js';
import {
  projectedRim,
  type Exposure,
  type ProjectedRim,
} from '../../../src/biomechanics/orientation/rim-projection.js';
import {
  fitEllipse,
  openingTowardSource,
  radiographicTurn,
  rimInSpace,
  throughPointSource,
} from '../rim-film.js';
import { evenly } from '../evenly.js';
import { expectWithin } from '../tolerance.js';
import { workedExample } from '../worked-example.js';

const DISTANCE = millimetres(1000);
const RADIUS = millimetres(25);
/** Sine, about 3 degrees. */
const SEEN = 0.05;

function exposure(lateral: number, cranial: number): Exposure {
  return {
    sourceDetectorDistance: DISTANCE,
    hipHeight: millimetres(150),
    lateralOffset: millimetres(lateral),
    cranialOffset: millimetres(cranial),
  };
}

function cup(inclination: number, anteversion: number): CupOrientation<'radiographic'> {
  return { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) };
}

/** Three's film of a rim, fitted by least squares, and how far it is seen from its edge. */
function filmed(inclination: number, anteversion: number, lateral: number, cranial: number) {
  const turn = radiographicTurn(inclination, anteversion);
  const center = new Vector3(150, cranial, lateral);
  const fitted = fitEllipse(throughPointSource(rimInSpace(turn, RADIUS, center), DISTANCE));
  const opening = openingTowardSource(turn, center, DISTANCE);
  // A rim seen from its edge cannot be fitted.
  fc.pre(Math.abs(opening) > SEEN);
  const rim: ProjectedRim = {
    majorAxis: millimetres(fitted.majorAxis),
    minorAxis: millimetres(fitted.minorAxis),
    inclination: degrees(fitted.angle),
    centerLateral: millimetres(fitted.center[0]),
    centerCranial: millimetres(fitted.center[1]),
  };
  return { rim, facing: opening > 0 ? ('source' as const) : ('detector' as const) };
}

const anyFilm = fc
  .tuple(evenly(15, 80), evenly(-45, 60), evenly(-120, 120), evenly(-80, 80))
  .map(([inclination, anteversion, lateral, cranial]) => ({ inclination, anteversion, lateral, cranial }));

describe('the cups that draw one ellipse', () => {
  test('are the one three projected, and another with the same film', () => {
    // Independent: rim points projected by three, an ellipse fitted by least squares. Measured
    // errors stay below 1e-8 degrees.
    fc.assert(
      fc.property(anyFilm, ({ inclination, anteversion, lateral, cranial }) => {
        const { rim, facing } = filmed(inclination, anteversion, lateral, cranial);
        const both = cupsFromProjectedRim(rim, DISTANCE);
        expectWithin(both[facing]?.inclination ?? NaN, inclination, 1e-6);
        expectWithin(both[facing]?.anteversion ?? NaN, anteversion, 1e-6);
        // The two lie on either side of the ray through the cup.
        const { source, detector } = both;
        if (source && detector) expect(source.anteversion).toBeGreaterThan(detector.anteversion);
      }),
      { seed: 71 },
    );
  });

  test('may both be anteverted when the hip lies beside the beam, and never are when it is centered', () => {
    // 40/2 seen from 4 degrees beside it looks as 40/6 would.
    const both = cupsFromProjectedRim(projectedRim(cup(40, 2), exposure(90, 0), RADIUS), DISTANCE);
    expectWithin(both.detector?.anteversion ?? NaN, 2, 1e-9);
    expect(both.source?.anteversion).toBeGreaterThan(5);
    const centered = cupsFromProjectedRim(projectedRim(cup(40, 15), exposure(0, 0), RADIUS), DISTANCE);
    expectWithin(centered.source?.anteversion ?? NaN, 15, 1e-9);
    expectWithin(centered.detector?.anteversion ?? NaN, -15, 0.03);
  });

  test('are one and the same when the rim is seen from its edge', () => {
    // Limit case: no minor axis at all; half the digits of a double, 1e-6 degrees.
    const both = cupsFromProjectedRim(projectedRim(cup(40, 0), exposure(0, 0), RADIUS), DISTANCE);
    for (const one of [both.source, both.detector]) {
      expectWithin(one?.inclination ?? NaN, 40, 1e-6);
      expectWithin(one?.anteversion ?? NaN, 0, 1e-6);
    }
  });

  test('are one alone where the other would open toward the midline', () => {
    // Found by the property above: a low cup, far retroverted, 120 mm beside the beam.
    const rim = projectedRim(cup(15, -44), exposure(120, 0), RADIUS);
    const { source, detector } = cupsFromProjectedRim(rim, DISTANCE);
    expectWithin(detector?.anteversion ?? NaN, -44, 1e-9);
    expect(source).toBeUndefined();
    const ask = (facing: 'source' | 'detector') =>
      cupFromProjectedRim({
        reading: { inclination: rim.inclination, ...anteversionFromEllipse(rim) },
        exposure: exposure(120, 0),
        rimRadius: RADIUS,
        facing,
      });
    expectWithin(ask('detector').anteversion, -44, 1e-6);
    expect(() => ask('source')).toThrow(RangeError);
  });

  test('are refused for axes or a distance that cannot be', () => {
    const rim = projectedRim(cup(40, 15), exposure(0, 0), RADIUS);
    expect(() => cupsFromProjectedRim({ ...rim, minorAxis: millimetres(80) }, DISTANCE)).toThrow(RangeError);
    expect(() => cupsFromProjectedRim(rim, millimetres(0))).toThrow(RangeError);
  });
});

describe('a reading corrected for the beam', () => {
  const angles = z.object({ RI: z.number(), RA: z.number() });
  const { inputs, expected, label } = workedExample('film-reading', 'beam-centring-40-15', {
    inputs: angles,
    expected: z.object({ hip_centred: angles, lateral90: angles, lateral90_below40: angles }),
  });
  test.each([
    ['centered on the hip', 0, 0, expected.hip_centred],
    ['90 mm beside the hip', 90, 0, expected.lateral90],
    ['90 mm beside and 40 mm above the hip', 90, -40, expected.lateral90_below40],
  ])(`gives the cup back with the beam %s (${label})`, (_beam, lateral, cranial, reading) => {
    const found = cupFromProjectedRim({
      reading: { inclination: degrees(reading.RI), anteversionSize: degrees(reading.RA) },
      exposure: exposure(lateral, cranial),
      rimRadius: RADIUS,
      facing: 'source',
    });
    // The readings are printed to 0.01 degrees, and so is what comes back of them.
    expectWithin(found.inclination, inputs.RI, 0.01);
    expectWithin(found.anteversion, inputs.RA, 0.01);
  });

  test('is the cup three projected, by its two angles alone', () => {
    fc.assert(
      fc.property(anyFilm, ({ inclination, anteversion, lateral, cranial }) => {
        const { rim, facing } = filmed(inclination, anteversion, lateral, cranial);
        const found = cupFromProjectedRim({
          reading: { inclination: rim.inclination, ...anteversionFromEllipse(rim) },
          exposure: exposure(lateral, cranial),
          rimRadius: RADIUS,
          facing,
        });
        expectWithin(found.inclination, inclination, 1e-6);
        expectWithin(found.anteversion, anteversion, 1e-6);
      }),
      { seed: 72 },
    );
  });

  test('moves by 0.4 degrees when the offset is 10 mm wrong', () => {
    // The doc block's figure; closed form: atan(10 sin 40 / 850) = 0.43 degrees.
    const at = (lateral: number) =>
      cupFromProjectedRim({
        reading: { inclination: degrees(40.9), anteversionSize: degrees(11.07) },
        exposure: exposure(lateral, 0),
        rimRadius: RADIUS,
        facing: 'source',
      }).anteversion;
    expectWithin(at(100) - at(90), 0.43, 0.01);
  });
});
