import { degrees, millimetres } from '../../src/base/units.js';
import type { MotionDirection } from '../../src/biomechanics/motion/motion-direction.js';
import type { NeckLean } from '../../src/biomechanics/range/half-oscillation.js';
import type { Liner, RimElevation } from '../../src/biomechanics/range/liner.js';
import type { Neck, NeckCollar } from '../../src/biomechanics/range/neck.js';
import type { ReplacedHip } from '../../src/biomechanics/range/prosthetic-margin.js';

/*
 * Designs in which meshes and library once disagreed, by 0.04 to 7.3 degrees: found by some 15,000 random draws with the
 * corners of the neck laid near the rim, and motions aimed at the ends of lips. Rounded to 0.001.
 */

function raised(
  shape: RimElevation['shape'],
  { angle, arc, azimuth, ramp = 0 }: { angle: number; arc: number; azimuth: number; ramp?: number },
): RimElevation {
  return {
    shape,
    angle: degrees(angle),
    arc: degrees(arc),
    azimuth: degrees(azimuth),
    ramp: degrees(ramp),
  };
}

function liner(bore: number, centerOffset: number, wall: number, elevation: RimElevation): Liner {
  return {
    bore: millimetres(bore),
    centerOffset: millimetres(centerOffset),
    wall: millimetres(wall),
    opening: degrees(180),
    elevation,
  };
}

function collar(diameter: number, length: number): NeckCollar {
  return { diameter: millimetres(diameter), length: millimetres(length) };
}

function neck(diameter: number, more: Omit<Neck, 'diameter' | 'flats'> = {}): Neck {
  return { diameter: millimetres(diameter), ...more };
}

function flattened(diameter: number, flats: number, more: Omit<Neck, 'diameter' | 'flats'> = {}): Neck {
  return { ...neck(diameter, more), flats: millimetres(flats) };
}

function toward(azimuth: number, roll: number): NeckLean {
  return { azimuth: degrees(azimuth), roll: degrees(roll) };
}

/** A neck, the way it leans, and what it touches. */
interface LeanCase {
  readonly name: string;
  readonly liner: Liner;
  readonly neck: Neck;
  readonly lean: NeckLean;
}

export const LEAN_CASES: readonly LeanCase[] = [
  {
    name: 'the end of a thick taper against the upright wall of a ramp',
    liner: liner(
      37.372,
      0,
      3.355,
      raised('straight-wall', { angle: 11.064, arc: 94.355, azimuth: 311.091, ramp: 28.335 }),
    ),
    neck: neck(10.481, { taper: collar(13.059, 17.592) }),
    lean: toward(369.362, -31.971),
  },
  {
    name: 'the end of a skirt against an upright wall below its top',
    liner: liner(
      38.758,
      0,
      3.81,
      raised('straight-wall', { angle: 33.37, arc: 99.974, azimuth: 225.909, ramp: 39.604 }),
    ),
    neck: flattened(10.377, 7.656, { skirt: collar(14.948, 21.447) }),
    lean: toward(198.526, -117.634),
  },
  {
    name: 'a skirt that ends at a distance the edge of a ramp passes',
    liner: liner(
      42.051,
      -0.332,
      3.191,
      raised('straight-wall', { angle: 27.546, arc: 143.756, azimuth: 101.11, ramp: 34.05 }),
    ),
    neck: flattened(8.134, 4.546, { taper: collar(9.513, 23.196), skirt: collar(10.87, 22.371) }),
    lean: toward(179.22, 44.312),
  },
  {
    name: 'the ramp of a wall that ends below the equator',
    liner: liner(
      40.021,
      2.394,
      5.347,
      raised('straight-wall', { angle: 4.161, arc: 47.42, azimuth: 229.463, ramp: 33.992 }),
    ),
    neck: neck(11.95),
    lean: toward(189.644, 0),
  },
  {
    name: 'the front of a neck behind a thin taper against the outer end of a ramp',
    liner: liner(
      28.777,
      1.332,
      2.419,
      raised('straight-wall', { angle: 23.436, arc: 22.506, azimuth: 100, ramp: 29.434 }),
    ),
    neck: neck(22.421, { taper: collar(2.954, 16.996) }),
    lean: toward(120.948, 0),
  },
  {
    name: 'the front edge of a flattened neck against the end of a wall',
    liner: {
      ...liner(
        29.744,
        -0.588,
        5.801,
        raised('straight-wall', { angle: 21.762, arc: 172.619, azimuth: 287.361 }),
      ),
      chamfer: { depth: millimetres(1.83), angle: degrees(35.69) },
    },
    neck: flattened(13.674, 7.211, { taper: collar(7.963, 20.215) }),
    lean: toward(182.216, 56.129),
  },
  {
    name: 'the front edge of a flattened neck against the high end of a ramp',
    liner: liner(
      40.289,
      1.468,
      5.882,
      raised('on-sphere', { angle: 34.758, arc: 150.666, azimuth: 198.819, ramp: 32.607 }),
    ),
    neck: flattened(11.682, 9.569, { taper: collar(7.266, 24.855), skirt: collar(16.223, 18.09) }),
    lean: toward(119.617, 60.23),
  },
  {
    name: 'the end of a skirt over flats against the end of a lip',
    liner: {
      ...liner(31.327, 0, 3.1, raised('on-sphere', { angle: 9.019, arc: 174.888, azimuth: 260.075 })),
      opening: degrees(167.482),
    },
    neck: flattened(11.937, 9.504, { skirt: collar(12.133, 13.991) }),
    lean: toward(248.56, 88.463),
  },
  {
    name: 'flats with both corners about equally near',
    liner: liner(
      29.169,
      0.615,
      5.267,
      raised('straight-wall', { angle: 4.222, arc: 153.453, azimuth: 88.187 }),
    ),
    neck: flattened(11.825, 6.349),
    lean: toward(150.929, -89.265),
  },
];

/** A hip and a motion that ends sideways, against the end of a lip the neck is passing. */
interface MotionCase {
  readonly name: string;
  readonly hip: ReplacedHip;
  readonly direction: MotionDirection;
}

function placed(
  cup: readonly [number, number],
  stem: readonly [number, number],
): Pick<ReplacedHip, 'cup' | 'stem'> {
  return {
    cup: { definition: 'radiographic', inclination: degrees(cup[0]), anteversion: degrees(cup[1]) },
    stem: { anteversion: degrees(stem[0]), neckShaftAngle: degrees(stem[1]) },
  };
}

export const MOTION_CASES: readonly MotionCase[] = [
  {
    name: 'external rotation past a lip on the sphere',
    hip: {
      ...placed([35.369, 19.59], [34.004, 127.041]),
      liner: liner(
        39.628,
        -0.81,
        3.32,
        raised('on-sphere', { angle: 32.467, arc: 140.054, azimuth: 151.732 }),
      ),
      neck: neck(10.134),
    },
    direction: 'external-rotation',
  },
  {
    name: 'abduction past a lip on the sphere',
    hip: {
      ...placed([37.952, 34.28], [29.16, 134.689]),
      liner: liner(44.558, 0, 3.509, raised('on-sphere', { angle: 28.63, arc: 43.458, azimuth: 309.796 })),
      neck: neck(10.688),
    },
    direction: 'abduction',
  },
  {
    name: 'internal rotation at 90 degrees against the upright end of a wall',
    hip: {
      ...placed([41.265, 3.676], [34.461, 123.218]),
      liner: liner(
        47.581,
        -0.697,
        5.965,
        raised('straight-wall', { angle: 34.423, arc: 146.072, azimuth: -56.984 }),
      ),
      neck: neck(13.913),
    },
    direction: 'internal-rotation-at-90',
  },
  {
    name: 'extension of a flattened neck against the upright end of a wall',
    hip: {
      ...placed([52.97, 28.08], [12.808, 141.758]),
      liner: liner(
        44.614,
        0.242,
        4.993,
        raised('straight-wall', { angle: 29.729, arc: 73.34, azimuth: 298.356 }),
      ),
      neck: flattened(12.546, 11.731),
    },
    direction: 'extension',
  },
  {
    name: 'adduction against the upright end of a wall',
    hip: {
      ...placed([39.494, 19.81], [25.159, 120.066]),
      liner: liner(
        34.145,
        -0.72,
        4.471,
        raised('straight-wall', { angle: 25.015, arc: 156.64, azimuth: 96.057 }),
      ),
      neck: neck(9.582),
    },
    direction: 'adduction',
  },
  {
    name: 'flexion of a flattened neck against the upright end of a wall',
    hip: {
      ...placed([53.908, 5.278], [-0.453, 131.408]),
      liner: liner(
        35.578,
        0,
        5.374,
        raised('straight-wall', { angle: 29.605, arc: 65.763, azimuth: -24.219 }),
      ),
      neck: flattened(12.266, 7.909),
    },
    direction: 'flexion',
  },
];
