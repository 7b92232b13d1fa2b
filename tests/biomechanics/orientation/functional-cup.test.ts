import fc from 'fast-check';
import { Quaternion, Vector3 } from 'three';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { radiographicToOperative } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { radiographicCup as cup, seen, tiltBetween } from '../tilted-cup.js';
import { expectWithin } from '../tolerance.js';
import { workedExample, workedExampleIds } from '../worked-example.js';

// Figures printed to two decimals.
const PRINTED = 0.005 + 1e-9;
// Doubles through one turn and back.
const ROUND_TRIP = 1e-9;

const anyCup = fc
  .tuple(fc.double({ min: 5, max: 85, noNaN: true }), fc.double({ min: -45, max: 60, noNaN: true }))
  .map(([inclination, anteversion]) => cup(inclination, anteversion));
const anyTilt = fc.double({ min: -60, max: 60, noNaN: true });

describe('a cup seen in another posture', () => {
  // Clinical decisions, "Pelvis and spine": 40/25 with 22 degrees more posterior tilt stands at 50.2/40.7.
  test('40/25 on a supine film stands at 50.2/40.7 when the pelvis stands 22 degrees further back', () => {
    for (const supine of [0, 4.2, -10]) {
      const standing = seen(cup(40, 25), supine, supine - 22);
      expectWithin(standing.inclination, 50.2, 0.05);
      expectWithin(standing.anteversion, 40.7, 0.05);
    }
  });

  test('against the anterior pelvic plane the tilt itself counts, on a film only the change of tilt', () => {
    // Closed form: Rz(T - P) depends on the difference.
    fc.assert(
      fc.property(anyCup, anyTilt, anyTilt, (from, film, posture) => {
        fc.pre(Math.abs(film - posture) < 60);
        const onFilm = seen(from, film, posture);
        const againstPlane = seen(from, 0, posture - film);
        expectWithin(onFilm.inclination, againstPlane.inclination, ROUND_TRIP);
        expectWithin(onFilm.anteversion, againstPlane.anteversion, ROUND_TRIP);
      }),
      { seed: 1 },
    );
  });

  test('in the posture of its own film reads as on the film', () => {
    fc.assert(
      fc.property(anyCup, anyTilt, (from, tilt) => {
        const same = seen(from, tilt, tilt);
        expectWithin(same.inclination, from.inclination, ROUND_TRIP);
        expectWithin(same.anteversion, from.anteversion, ROUND_TRIP);
      }),
      { seed: 2 },
    );
  });

  test('and back again is the cup one started from', () => {
    fc.assert(
      fc.property(anyCup, anyTilt, anyTilt, (from, film, posture) => {
        const back = seen(seen(from, film, posture), posture, film);
        expectWithin(back.inclination, from.inclination, ROUND_TRIP);
        expectWithin(back.anteversion, from.anteversion, ROUND_TRIP);
      }),
      { seed: 3 },
    );
  });

  test('keeps operative inclination and loses operative anteversion one for one with anterior tilt', () => {
    // Closed form, the geometry conventions: operative anteversion -1 exactly, operative inclination unchanged.
    fc.assert(
      fc.property(anyCup, fc.double({ min: -30, max: 30, noNaN: true }), (from, tilt) => {
        const before = radiographicToOperative(from);
        const after = radiographicToOperative(seen(from, 0, tilt));
        expectWithin(after.inclination, before.inclination, ROUND_TRIP);
        expectWithin(after.anteversion, before.anteversion - tilt, ROUND_TRIP);
      }),
      { seed: 4 },
    );
  });

  test('changes per degree of anterior tilt by -cos RI in anteversion and -sin RI tan RA in inclination', () => {
    // Closed form; central difference over 2e-3 degrees, whose error is of the order of 1e-9.
    const step = 1e-3;
    fc.assert(
      fc.property(anyCup, (from) => {
        const [ahead, behind] = [seen(from, 0, step), seen(from, 0, -step)];
        const [ri, ra] = [(from.inclination * Math.PI) / 180, (from.anteversion * Math.PI) / 180];
        const perDegree = (after: number, before: number): number => (after - before) / (2 * step);
        expectWithin(perDegree(ahead.anteversion, behind.anteversion), -Math.cos(ri), 1e-6);
        expectWithin(perDegree(ahead.inclination, behind.inclination), -Math.sin(ri) * Math.tan(ra), 1e-6);
      }),
      { seed: 5 },
    );
  });

  test('agrees with three, which turns the axis by quaternions', () => {
    // Independent implementation: three's Quaternion and Vector3, in doubles. Lateral is +Z, so tilting the pelvis
    // forward turns it about -Z on the way from cranial (Y) to anterior (X).
    const lateral = new Vector3(0, 0, 1);
    fc.assert(
      fc.property(anyCup, anyTilt, anyTilt, (from, film, posture) => {
        const rad = Math.PI / 180;
        const onFilm = new Vector3(0, -1, 0)
          .applyAxisAngle(new Vector3(1, 0, 0), from.inclination * -rad)
          .multiplyScalar(Math.cos(from.anteversion * rad))
          .add(new Vector3(Math.sin(from.anteversion * rad), 0, 0));
        const intoPelvis = new Quaternion().setFromAxisAngle(lateral, film * rad);
        const intoPosture = new Quaternion().setFromAxisAngle(lateral, -posture * rad);
        const axis = onFilm.applyQuaternion(intoPelvis).applyQuaternion(intoPosture);
        const result = seen(from, film, posture);
        const shadow = new Vector3(0, axis.y, axis.z);
        // three's angleTo is an acos, good to about 1e-6 degrees near 0 and 180.
        expectWithin(result.inclination, shadow.angleTo(new Vector3(0, -1, 0)) / rad, 2e-6);
        expectWithin(result.anteversion, Math.asin(Math.min(1, Math.max(-1, axis.x))) / rad, 2e-6);
      }),
      { seed: 6 },
    );
  });

  test('with no anteversion and no inclination to speak of keeps its inclination', () => {
    // Limit case: an axis almost along Z lies on the axis of tilt and does not move.
    const lateral = seen(cup(90, 0), 0, 40);
    expectWithin(lateral.inclination, 90, ROUND_TRIP);
    expectWithin(lateral.anteversion, 0, ROUND_TRIP);
  });

  test('may open above horizontal: inclination past 90 degrees, and below 180', () => {
    // Closed form: 40/15 is 38.38/19.28 operative; past 70.72 degrees of posterior tilt operative anteversion passes 90.
    expectWithin(seen(cup(40, 15), 0, -70.7207).inclination, 90, 1e-3);
    const beyond = seen(cup(40, 15), 0, -100);
    expect(beyond.inclination).toBeGreaterThan(90);
    expect(beyond.inclination).toBeLessThan(180);
  });

  test('of no cup there is none: inclination 0 and anteversion 90 are refused', () => {
    expect(() => seen(cup(0, 15), 0, 5)).toThrow(RangeError);
    expect(() => seen(cup(40, 90), 0, 5)).toThrow(RangeError);
  });
});

const angles = { RI: z.number(), RA: z.number() };
const TABLE = workedExampleIds('pelvic-tilt').filter((id) => /^tilt-\d+-\d+-(anterior|posterior)/.test(id));
const SLOPES = workedExampleIds('pelvic-tilt').filter((id) => id.startsWith('tilt-slope-'));

describe('recorded turns', () => {
  test('every recorded turn and slope is run', () => {
    expect([TABLE.length, SLOPES.length]).toEqual([16, 5]);
  });

  for (const id of TABLE) {
    // Evidence states posterior tilt positive: the sign is changed once, here.
    const { inputs, expected, label } = workedExample('pelvic-tilt', id, {
      inputs: z.object({ ...angles, posterior_tilt: z.number() }),
      expected: z.object({ ...angles, OI: z.number(), OA: z.number() }),
    });
    test(label, () => {
      const after = seen(cup(inputs.RI, inputs.RA), 0, -inputs.posterior_tilt);
      expectWithin(after.inclination, expected.RI, PRINTED);
      expectWithin(after.anteversion, expected.RA, PRINTED);
      const operative = radiographicToOperative(after);
      expectWithin(operative.inclination, expected.OI, PRINTED);
      expectWithin(operative.anteversion, expected.OA, PRINTED);
    });
  }

  for (const id of SLOPES) {
    const { inputs, expected, label } = workedExample('pelvic-tilt', id, {
      inputs: z.object(angles),
      expected: z.object({ dRA_per_deg: z.number(), dRI_per_deg: z.number() }),
    });
    test(label, () => {
      const step = 1e-3;
      const [back, ahead] = [
        seen(cup(inputs.RI, inputs.RA), 0, -step),
        seen(cup(inputs.RI, inputs.RA), 0, step),
      ];
      // Printed to four decimals.
      expectWithin((back.anteversion - ahead.anteversion) / (2 * step), expected.dRA_per_deg, 5.1e-5);
      expectWithin((back.inclination - ahead.inclination) / (2 * step), expected.dRI_per_deg, 5.1e-5);
    });
  }
});

describe('published cohorts', () => {
  const supine = workedExample('pelvic-tilt', 'validation-supine-to-standing', {
    inputs: z.object({ ...angles, posterior_tilt: z.number() }),
    expected: z.object({ published_standing_RI: z.number(), published_standing_RA: z.number() }),
  });
  test(`${supine.label}: one tilt gives both published means within 0.5 degrees`, () => {
    const { inputs, expected } = supine;
    const standing = seen(cup(inputs.RI, inputs.RA), 0, -inputs.posterior_tilt);
    expectWithin(standing.inclination, expected.published_standing_RI, 0.5);
    expectWithin(standing.anteversion, expected.published_standing_RA, 0.5);
  });

  const shape = {
    inputs: z.object({ standing_RI: z.number(), standing_RA: z.number(), sitting_RA: z.number() }),
    expected: z.object({ posterior_tilt: z.number(), RI: z.number(), published_sitting_RI: z.number() }),
  };
  const stiff = workedExample('pelvic-tilt', 'validation-stiff-group-sitting', shape);
  test(`${stiff.label}: the tilt that gives the seated anteversion gives its inclination within 0.5 degrees`, () => {
    const { inputs, expected } = stiff;
    const standing = cup(inputs.standing_RI, inputs.standing_RA);
    const tilt = tiltBetween(standing, inputs.sitting_RA);
    expectWithin(tilt, expected.posterior_tilt, 0.005);
    // The paper calls this group stiff: below 10 degrees.
    expect(tilt).toBeLessThan(10);
    expectWithin(seen(standing, 0, -tilt).inclination, expected.published_sitting_RI, 0.5);
  });

  const mobile = workedExample('pelvic-tilt', 'validation-hypermobile-group-sitting', shape);
  test(`${mobile.label}: not reproduced, the seated inclination computed lies 6.0 degrees below the one printed`, () => {
    // A disagreement kept in view: means of a skewed group, and films of a pelvis far rolled back.
    const { inputs, expected } = mobile;
    const standing = cup(inputs.standing_RI, inputs.standing_RA);
    const tilt = tiltBetween(standing, inputs.sitting_RA);
    expectWithin(tilt, expected.posterior_tilt, 0.005);
    const computed = seen(standing, 0, -tilt).inclination;
    expectWithin(computed, expected.RI, PRINTED);
    expectWithin(expected.published_sitting_RI - computed, 6, 0.05);
  });

  const mean = workedExample('pelvic-tilt', 'ante-inclination-cohort-mean', {
    inputs: z.object(angles),
    expected: z.object({ published_mean_AI_measured: z.number() }),
  });
  test(`${mean.label}: operative anteversion is the ante-inclination a lateral film shows, within 0.5 degrees`, () => {
    const found = radiographicToOperative(cup(mean.inputs.RI, mean.inputs.RA)).anteversion;
    expectWithin(found, mean.expected.published_mean_AI_measured, 0.5);
  });

  const plain = workedExample('pelvic-tilt', 'ante-inclination-40-20', {
    inputs: z.object(angles),
    expected: z.object({ AI: z.number() }),
  });
  test(plain.label, () => {
    expectWithin(
      radiographicToOperative(cup(plain.inputs.RI, plain.inputs.RA)).anteversion,
      plain.expected.AI,
      PRINTED,
    );
  });

  const change = workedExample('pelvic-tilt', 'validation-ante-inclination-standing-sitting', {
    inputs: z.object({ AI_standing: z.number(), AI_sitting: z.number() }),
    expected: z.object({
      delta_AI: z.number(),
      published_normal_tilt: z.tuple([z.number(), z.number()]),
    }),
  });
  test(`${change.label}: the change of ante-inclination is the change of tilt, inside the range the paper calls normal`, () => {
    // A cup with that ante-inclination standing, whatever its operative inclination, rolled back by the change.
    const { inputs, expected } = change;
    const standing = cup(40, 0);
    const start = seen(standing, 0, -inputs.AI_standing);
    const seated = seen(start, 0, -expected.delta_AI);
    expectWithin(radiographicToOperative(start).anteversion, inputs.AI_standing, ROUND_TRIP);
    expectWithin(radiographicToOperative(seated).anteversion, inputs.AI_sitting, 0.05);
    const [low, high] = expected.published_normal_tilt;
    expect(expected.delta_AI).toBeGreaterThan(low);
    expect(expected.delta_AI).toBeLessThan(high);
  });
});
