import { degrees } from '../../src/base/units.js';
import { cupAxis } from '../../src/biomechanics/orientation/cup-orientation.js';
import {
  impingementMargin,
  type ImpingementGeometry,
} from '../../src/biomechanics/range/impingement-margin.js';
import { neckAxis, type Pose } from '../../src/biomechanics/motion/pose.js';

/**
 * Published models print how far a motion goes before neck and rim meet. Here that limit is found by search on the
 * margin, so it holds cup axis, neck axis, pose and margin together against other people's numbers.
 */
export const MOTIONS = {
  flexion: (t: number) => pose(t, 0, 0),
  extension: (t: number) => pose(-t, 0, 0),
  abduction: (t: number) => pose(0, t, 0),
  adduction: (t: number) => pose(0, -t, 0),
  internalRotation: (t: number) => pose(0, 0, -t),
  externalRotation: (t: number) => pose(0, 0, t),
  internalRotationAt90: (t: number) => pose(90, 0, -t),
} as const;

export type Motion = keyof typeof MOTIONS;
export const MOTION_NAMES = Object.keys(MOTIONS) as readonly Motion[];

/** Plain numbers of a hip, in degrees. */
export interface Hip {
  readonly inclination: number;
  readonly anteversion: number;
  readonly neckShaftAngle: number;
  readonly stemAnteversion: number;
  readonly oscillation: number;
}

function pose(flexion: number, abduction: number, externalRotation: number): Pose {
  return {
    flexion: degrees(flexion),
    abduction: degrees(abduction),
    externalRotation: degrees(externalRotation),
  };
}

function geometry(hip: Hip): ImpingementGeometry {
  return {
    cupAxis: cupAxis({
      definition: 'radiographic',
      inclination: degrees(hip.inclination),
      anteversion: degrees(hip.anteversion),
    }),
    neckAxis: neckAxis({
      anteversion: degrees(hip.stemAnteversion),
      neckShaftAngle: degrees(hip.neckShaftAngle),
    }),
    oscillationAngle: degrees(hip.oscillation),
  };
}

/** The first angle of a motion at which the margin is used up: steps of a quarter degree, then bisection. */
export function motionLimit(hip: Hip, motion: Motion): number {
  const at = (t: number): number => impingementMargin(geometry(hip), MOTIONS[motion](t)).margin;
  let low = 0;
  if (at(low) < 0) throw new Error(`${motion} starts beyond contact`);
  while (at(low + 0.25) >= 0) {
    low += 0.25;
    if (low > 360) throw new Error(`${motion} never reaches contact`);
  }
  let high = low + 0.25;
  while (high - low > 1e-9) {
    const middle = (low + high) / 2;
    if (at(middle) >= 0) low = middle;
    else high = middle;
  }
  return low;
}

/** The oscillation angle a hip needs to reach each target, in ascending order of the hips' needs. */
export function neededOscillations(
  hips: readonly Hip[],
  targets: Readonly<Partial<Record<Motion, number>>>,
): readonly number[] {
  const asked = Object.entries(targets) as readonly (readonly [Motion, number])[];
  return hips
    .map((hip) => {
      const angles = asked.map(
        ([motion, target]) => impingementMargin(geometry(hip), MOTIONS[motion](target)).axisAngle,
      );
      return 2 * Math.max(...angles);
    })
    .sort((a, b) => a - b);
}

/** Rim azimuth of contact at the end of a motion, of each hip. */
export function contactAzimuths(hips: readonly Hip[], motion: Motion): readonly number[] {
  return hips.map((hip) => {
    const atLimit = MOTIONS[motion](motionLimit(hip, motion));
    return impingementMargin(geometry(hip), atLimit).contactAzimuth ?? Number.NaN;
  });
}

export interface PositionGrid {
  readonly abductionDeg: readonly number[];
  readonly anteriorOpeningDeg: readonly number[];
  readonly neckAnteversionDeg: readonly number[];
  readonly neckShaftAngleDeg: number;
}

/** The orientations the records assume; "anterior opening" is read as radiographic anteversion. */
export function positionsOf(grid: PositionGrid, oscillation: number): readonly Hip[] {
  return grid.abductionDeg.flatMap((inclination) =>
    grid.anteriorOpeningDeg.flatMap((anteversion) =>
      grid.neckAnteversionDeg.map((stemAnteversion) => ({
        inclination,
        anteversion,
        stemAnteversion,
        neckShaftAngle: grid.neckShaftAngleDeg,
        oscillation,
      })),
    ),
  );
}
