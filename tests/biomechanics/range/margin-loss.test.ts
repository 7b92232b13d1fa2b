import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { neckAxis, type NamedPose } from '../../../src/biomechanics/motion/pose.js';
import { oscillationAngle } from '../../../src/biomechanics/range/head-neck.js';
import { impingementMargin } from '../../../src/biomechanics/range/impingement-margin.js';
import { marginLoss, type HipAxes } from '../../../src/biomechanics/range/margin-loss.js';
import { prostheticMargin } from '../../../src/biomechanics/range/prosthetic-margin.js';
import { lip, ready, TEXTBOOK, type HipNumbers } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

function pose(name: string, flexion: number, abduction: number, externalRotation: number): NamedPose {
  return {
    name,
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

/** The four poses that oscillation-2001 and oscillation-2006 ask for. */
const POSES = [
  pose('flexion', 110, 0, 0),
  pose('extension', -30, 0, 0),
  pose('internal rotation', 90, 0, -30),
  pose('external rotation', 0, 0, 40),
];

const axes = ({ inclination, anteversion, stem, neckShaft }: HipNumbers): HipAxes => ({
  opening: cupAxis({
    definition: 'radiographic',
    inclination: degrees(inclination),
    anteversion: degrees(anteversion),
  }),
  neckAxis: neckAxis({ anteversion: degrees(stem), neckShaftAngle: degrees(neckShaft) }),
});

/** Margin of one pose by the closed form for a flat rim. */
function flatMargin(hip: HipNumbers, at: NamedPose): number {
  const { opening, neckAxis: neck } = axes(hip);
  return impingementMargin(
    {
      cupAxis: opening,
      neckAxis: neck,
      oscillationAngle: oscillationAngle({
        head: millimetres(hip.head),
        neck: millimetres(hip.neck),
        centerOffset: millimetres(0),
      }),
    },
    at,
  ).margin;
}

const plans: fc.Arbitrary<HipNumbers> = fc.record({
  inclination: fc.double({ min: 20, max: 65, noNaN: true }),
  anteversion: fc.double({ min: -15, max: 45, noNaN: true }),
  stem: fc.double({ min: -20, max: 40, noNaN: true }),
  neckShaft: fc.constant(135),
  head: fc.double({ min: 22, max: 62, noNaN: true }),
  neck: fc.double({ min: 8, max: 20, noNaN: true }),
});

describe('the margin a plan loses against a reference', () => {
  test('with the same round neck and even rim is the same for every head and neck, to the ends of what is plausible', () => {
    // Truth: closed form: margins of whole hips, half the oscillation angle less the angle between the axes.
    fc.assert(
      fc.property(plans, (plan) => {
        const found = marginLoss(
          { kind: 'same-even-rim', plan: axes(plan), reference: axes(TEXTBOOK) },
          POSES,
        );
        for (const [head, neck] of [
          [plan.head, plan.neck],
          [22, 8],
          [22, 20],
          [62, 8],
          [62, 20],
        ] as const) {
          const losses = POSES.map(
            (at) => flatMargin({ ...TEXTBOOK, head, neck }, at) - flatMargin({ ...plan, head, neck }, at),
          );
          expectWithin(found.loss, Math.max(...losses), 1e-9);
        }
        const whole = marginLoss(
          {
            kind: 'any-rim',
            plan: ready(plan),
            reference: ready({ ...TEXTBOOK, head: plan.head, neck: plan.neck }),
          },
          POSES,
        );
        expectWithin(whole.loss, found.loss, 1e-9);
        expect(whole.pose.name).toBe(found.pose.name);
        expectWithin(whole.contactAzimuth ?? NaN, found.contactAzimuth ?? NaN, 1e-6);
      }),
      { numRuns: 300, seed: 3 },
    );
  });

  test('is nothing for the reference itself, and names the first motion', () => {
    const found = marginLoss(
      { kind: 'same-even-rim', plan: axes(TEXTBOOK), reference: axes(TEXTBOOK) },
      POSES,
    );
    expectWithin(found.loss, 0, 1e-9);
    expect(found.pose.name).toBe('flexion');
  });

  test('lies in flexion in front for too little anteversion, and in extension behind for too much', () => {
    // Truth: clinical decisions §5: contact in front in flexion, behind in extension and external rotation.
    const at = (anteversion: number): ReturnType<typeof marginLoss> =>
      marginLoss(
        { kind: 'same-even-rim', plan: axes({ ...TEXTBOOK, anteversion }), reference: axes(TEXTBOOK) },
        POSES,
      );
    expect(at(5).pose.name).toBe('flexion');
    expectWithin(at(5).loss, 11.08, 0.005);
    expectWithin(at(5).contactAzimuth ?? NaN, 44.63, 0.005);
    expect(at(30).pose.name).toBe('external rotation');
    expect(at(30).contactAzimuth).toBeGreaterThan(180);
  });

  test('of a lip that only the plan has is the cover it adds, where the neck meets it straight ahead', () => {
    // Truth: closed form: a lip on the head's sphere takes its angle off the half oscillation angle under it.
    const front = { elevation: lip('on-sphere', 30) };
    const plan = ready(TEXTBOOK, { liner: front });
    const found = marginLoss({ kind: 'any-rim', plan, reference: ready(TEXTBOOK) }, POSES);
    expectWithin(found.loss, 15, 1e-9);
    expectWithin(
      prostheticMargin(ready(TEXTBOOK), found.pose).margin - prostheticMargin(plan, found.pose).margin,
      15,
      1e-9,
    );
  });

  test('needs at least one pose', () => {
    const compared = { kind: 'same-even-rim', plan: axes(TEXTBOOK), reference: axes(TEXTBOOK) } as const;
    expect(() => marginLoss(compared, [])).toThrow(RangeError);
  });
});
