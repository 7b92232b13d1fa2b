import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { degrees, millimetres } from '../../../src/base/units.js';
import { halfOscillation } from '../../../src/biomechanics/range/half-oscillation.js';
import { cupAxis } from '../../../src/biomechanics/orientation/cup-orientation.js';
import { oscillationAngle } from '../../../src/biomechanics/range/head-neck.js';
import {
  impingementMargin,
  worstImpingementMargin,
} from '../../../src/biomechanics/range/impingement-margin.js';
import { neckAxis, type NamedPose, type Pose } from '../../../src/biomechanics/motion/pose.js';
import {
  prostheticMargin,
  worstProstheticMargin,
} from '../../../src/biomechanics/range/prosthetic-margin.js';
import { motionEnd, rangeOfMotion, type MotionEnd } from '../../../src/biomechanics/range/range-of-motion.js';
import { lip, ready, replaced, TEXTBOOK, type HipNumbers } from '../replaced-hip.js';
import { expectWithin } from '../tolerance.js';

const numbers: fc.Arbitrary<HipNumbers> = fc.record({
  inclination: fc.double({ min: 25, max: 60, noNaN: true }),
  anteversion: fc.double({ min: -10, max: 40, noNaN: true }),
  stem: fc.double({ min: -15, max: 35, noNaN: true }),
  neckShaft: fc.double({ min: 120, max: 145, noNaN: true }),
  head: fc.double({ min: 22, max: 44, noNaN: true }),
  neck: fc.double({ min: 9, max: 14, noNaN: true }),
});
const poses: fc.Arbitrary<Pose> = fc
  .tuple(
    fc.double({ min: -40, max: 130, noNaN: true }),
    fc.double({ min: -30, max: 50, noNaN: true }),
    fc.double({ min: -50, max: 60, noNaN: true }),
  )
  .map(([flexion, abduction, externalRotation]) => pose(flexion, abduction, externalRotation));

function pose(flexion: number, abduction: number, externalRotation: number): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function flatGeometry(hip: HipNumbers): Parameters<typeof impingementMargin>[0] {
  const { cup, stem } = replaced(hip);
  return {
    cupAxis: cupAxis(cup),
    neckAxis: neckAxis(stem),
    oscillationAngle: oscillationAngle({
      head: millimetres(hip.head),
      neck: millimetres(hip.neck),
      centerOffset: millimetres(0),
    }),
  };
}

function reached(end: MotionEnd): number {
  if (end.kind !== 'contact') throw new Error(`expected a contact, found ${end.kind}`);
  return end.at;
}

describe('prosthetic margin', () => {
  test('is the margin of a round neck in a flat rim where the hip has those', () => {
    fc.assert(
      fc.property(numbers, poses, (hip, posed) => {
        const simple = impingementMargin(flatGeometry(hip), posed);
        const general = prostheticMargin(ready(hip), posed);
        expectWithin(general.margin, simple.margin, 1e-9);
        expect(general.contactAzimuth === undefined).toBe(simple.contactAzimuth === undefined);
        expectWithin(general.contactAzimuth ?? 0, simple.contactAzimuth ?? 0, 1e-9);
      }),
      { seed: 11 },
    );
  });

  test('names the same worst motion as the simple form, ties included', () => {
    const set: readonly NamedPose[] = [
      { name: 'first', ...pose(90, 0, -30) },
      { name: 'twin', ...pose(90, 0, -30) },
      { name: 'extension', ...pose(-30, 0, 0) },
    ];
    for (const anteversion of [0, 20, 40]) {
      const hip = { ...TEXTBOOK, anteversion };
      expect(worstProstheticMargin(ready(hip), set).motion).toBe(
        worstImpingementMargin(flatGeometry(hip), set).motion,
      );
    }
    expect(() => worstProstheticMargin(ready(TEXTBOOK), [])).toThrow(/at least one pose/);
  });

  // Worked poses of the project's geometry conventions: cup 40/15, stem 15, CCD 135, 28 mm head, 12 mm neck.
  test.each([
    [90, -15, -30, -2.85],
    [120, 0, 0, 2.13],
    [90, 0, -45, -7.82],
    [-30, 0, 0, 17.23],
    [0, 0, 40, 13.31],
    [-20, 0, 35, 0.88],
  ])('the worked pose (%s, %s, %s) has a margin of %s', (flexion, abduction, rotation, margin) => {
    const hip = ready({ ...TEXTBOOK, anteversion: 15, head: 28 });
    expectWithin(prostheticMargin(hip, pose(flexion, abduction, rotation)).margin, margin, 0.005 + 1e-9);
  });

  test('a margin of zero is where a motion ends, with any liner and neck', () => {
    const hips = [
      ready(TEXTBOOK, { liner: { elevation: lip('on-sphere', 225) } }),
      ready(TEXTBOOK, { liner: { elevation: lip('straight-wall', 225, 20) } }),
      ready(TEXTBOOK, { neck: { flats: millimetres(9) } }),
      ready(TEXTBOOK, { liner: { opening: degrees(150) } }),
    ];
    for (const hip of hips) {
      const end = reached(motionEnd(hip, 'external-rotation'));
      expectWithin(prostheticMargin(hip, pose(0, 0, end)).margin, 0, 1e-6);
      expect(prostheticMargin(hip, pose(0, 0, end - 0.01)).margin).toBeGreaterThan(0);
    }
  });
});

/* Directions every surgeon expects: common practice, no source. */
describe('what design and placement do to range', () => {
  const range = (...input: Parameters<typeof ready>): ReturnType<typeof rangeOfMotion> =>
    rangeOfMotion(ready(...input));

  test('a larger head and a thinner neck bring more of every motion', () => {
    const base = range({ ...TEXTBOOK, head: 28 });
    for (const better of [range(TEXTBOOK), range({ ...TEXTBOOK, head: 28, neck: 10 })]) {
      for (const [direction, end] of Object.entries(better)) {
        expect(reached(end)).toBeGreaterThan(reached(base[direction as keyof typeof base]));
      }
    }
  });

  test('a skirt narrows every motion', () => {
    const skirt = { diameter: millimetres(16), length: millimetres(25) };
    const [plain, skirted] = [range(TEXTBOOK), range(TEXTBOOK, { neck: { skirt } })];
    for (const [direction, end] of Object.entries(skirted)) {
      expect(reached(end)).toBeLessThan(reached(plain[direction as keyof typeof plain]));
    }
  });

  test('a posteroinferior lip at 40/15 costs extension and external rotation and leaves flexion and internal rotation', () => {
    const hip = { ...TEXTBOOK, anteversion: 15 };
    const [plain, raised] = [range(hip), range(hip, { liner: { elevation: lip('on-sphere', 225) } })];
    expect(reached(raised.extension)).toBeLessThan(reached(plain.extension) - 5);
    expect(reached(raised['external-rotation'])).toBeLessThan(reached(plain['external-rotation']) - 5);
    expectWithin(reached(raised.flexion), reached(plain.flexion), 1e-6);
    expectWithin(reached(raised['internal-rotation-at-90']), reached(plain['internal-rotation-at-90']), 1e-6);
  });

  test('a turned face keeps the arc and moves it: what one side gains the other loses', () => {
    const toward = (azimuth: number): ReturnType<typeof range> =>
      range(TEXTBOOK, { liner: { faceTurn: { angle: degrees(10), toward: degrees(azimuth) } } });
    const plain = range(TEXTBOOK);
    expect(reached(toward(90)['internal-rotation-at-90'])).toBeGreaterThan(
      reached(plain['internal-rotation-at-90']),
    );
    expect(reached(toward(90).extension)).toBeLessThan(reached(plain.extension));
    const even = ready(TEXTBOOK, { liner: { faceTurn: { angle: degrees(10), toward: degrees(90) } } });
    expect(even.joint.evenHalf).toBe(ready(TEXTBOOK).joint.evenHalf);
  });

  test('a flat cup is met earlier in flexion', () => {
    expect(reached(range({ ...TEXTBOOK, inclination: 30 }).flexion)).toBeLessThan(
      reached(range(TEXTBOOK).flexion),
    );
  });

  test('version lost on the stem is regained on the cup', () => {
    const lost = range({ ...TEXTBOOK, stem: 0 });
    const regained = range({ ...TEXTBOOK, stem: 0, anteversion: 30 });
    const base = range(TEXTBOOK);
    for (const direction of ['flexion', 'internal-rotation-at-90'] as const) {
      expect(reached(lost[direction])).toBeLessThan(reached(base[direction]));
      expect(reached(regained[direction])).toBeGreaterThan(reached(lost[direction]));
    }
  });

  test('a neck that starts beyond a closed opening is in contact before it moves', () => {
    const held = ready({ ...TEXTBOOK, inclination: 5, anteversion: 0 }, { liner: { opening: degrees(100) } });
    expect(motionEnd(held, 'flexion').kind).toBe('contact-at-start');
  });
});

describe('a left hip', () => {
  /*
   * Built natively: left pelvis frame with Z pointing left, so right-handed turns about X and Y change their sense:
   * M R M with M = diag(1, 1, -1). Axes and poses are written out here, in that frame, without the library.
   */
  test('built in its own frame with M = diag(1, 1, -1) has the same margins to 1e-12', () => {
    fc.assert(
      fc.property(numbers, poses, (hip, posed) => {
        const right = prostheticMargin(ready(hip), posed).axisAngle;
        expectWithin(leftSide(hip, posed).axisAngle, right, 1e-12);
      }),
      { seed: 12 },
    );
  });

  test('leans toward the same azimuth of its rim, so that a lip at its own back gives the same margin', () => {
    fc.assert(
      fc.property(numbers, poses, (hip, posed) => {
        const lipped = ready(hip, { liner: { elevation: lip('on-sphere', 225) } });
        const { margin, contactAzimuth } = prostheticMargin(lipped, posed);
        const left = leftSide(hip, posed);
        if (contactAzimuth === undefined) return;
        expectWithin(Math.cos(radians(left.azimuth - contactAzimuth)), 1, 1e-12);
        const half = halfOscillation(lipped.joint, { azimuth: degrees(left.azimuth), roll: degrees(0) });
        expectWithin(half - left.axisAngle, margin, 1e-9);
      }),
      { seed: 13 },
    );
  });
});

type Triple = readonly [number, number, number];
const radians = (angle: number): number => (angle * Math.PI) / 180;

function leftSide(
  hip: HipNumbers,
  { flexion, abduction, externalRotation }: Pose,
): { readonly axisAngle: number; readonly azimuth: number } {
  const [ri, ra] = [radians(hip.inclination), radians(hip.anteversion)];
  // To the patient's left is -Z in a frame shared by both hips.
  const cup: Triple = [Math.sin(ra), -Math.cos(ra) * Math.cos(ri), -Math.cos(ra) * Math.sin(ri)];
  const drop = radians(hip.neckShaft - 90);
  const at = radians(hip.stem);
  const neck: Triple = [-Math.sin(at) * Math.cos(drop), -Math.sin(drop), -Math.cos(at) * Math.cos(drop)];
  const turnY = (t: number, [x, y, z]: Triple): Triple => [
    x * Math.cos(t) + z * Math.sin(t),
    y,
    z * Math.cos(t) - x * Math.sin(t),
  ];
  const turnX = (t: number, [x, y, z]: Triple): Triple => [
    x,
    y * Math.cos(t) - z * Math.sin(t),
    y * Math.sin(t) + z * Math.cos(t),
  ];
  const turnZ = (t: number, [x, y, z]: Triple): Triple => [
    x * Math.cos(t) - y * Math.sin(t),
    x * Math.sin(t) + y * Math.cos(t),
    z,
  ];
  // Flexion keeps its sense; abduction and external rotation of a left hip turn the other way.
  const posed = turnZ(radians(flexion), turnX(radians(abduction), turnY(radians(externalRotation), neck)));
  const dot = (a: Triple, b: Triple): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cosine = dot(posed, cup);
  const sine = Math.hypot(
    posed[1] * cup[2] - posed[2] * cup[1],
    posed[2] * cup[0] - posed[0] * cup[2],
    posed[0] * cup[1] - posed[1] * cup[0],
  );
  // Cranial in the opening plane, and forward in it: on a left hip that is axis x cranial, not cranial x axis.
  const cranial: Triple = [-cup[1] * cup[0], 1 - cup[1] * cup[1], -cup[1] * cup[2]];
  const forward: Triple = [
    cup[1] * cranial[2] - cup[2] * cranial[1],
    cup[2] * cranial[0] - cup[0] * cranial[2],
    cup[0] * cranial[1] - cup[1] * cranial[0],
  ];
  return {
    axisAngle: (Math.atan2(sine, cosine) * 180) / Math.PI,
    azimuth: (Math.atan2(dot(posed, forward), dot(posed, cranial)) * 180) / Math.PI,
  };
}
