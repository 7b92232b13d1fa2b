import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import { assertCupAngle } from '../orientation/cup-orientation.js';
import { neckInLiner, type NeckInLiner } from './half-oscillation.js';
import { openingAxis } from './liner.js';
import { neckAxis, type NamedPose, type StemOrientation } from '../motion/pose.js';
import {
  flatNormalOf,
  openingFrame,
  posedMargin,
  posedNeck,
  type PosedNeck,
  type ReplacedHip,
} from './prosthetic-margin.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { angleBetweenUnits, pelvisVector, type Vec3 } from '../vector.js';

/** Cup orientations to look at: from, to and step, in degrees, both ends included. */
export interface MapAxis {
  readonly from: Degrees;
  readonly to: Degrees;
  readonly step: Degrees;
}

export interface OrientationMapInput {
  /** Everything but the cup's orientation. */
  readonly hip: Omit<ReplacedHip, 'cup'>;
  /** Radiographic inclination and anteversion. */
  readonly inclination: MapAxis;
  readonly anteversion: MapAxis;
  readonly poses: readonly NamedPose[];
}

/** One cup orientation of a map. */
export interface MapCell {
  readonly inclination: Degrees;
  readonly anteversion: Degrees;
  /** Least margin over the poses. */
  readonly margin: Degrees;
  /** The motion that has it. */
  readonly motion: string;
}

/** Least margin over inclination and anteversion. */
export interface OrientationMap {
  readonly inclinations: readonly Degrees[];
  readonly anteversions: readonly Degrees[];
  /** By inclination, then anteversion: `margins[i * anteversions.length + j]`, in degrees. */
  readonly margins: Float64Array;
  /** Index of the pose that has the least margin, in the same order. */
  readonly limiting: Uint16Array;
  /**
   * Orientations at which every pose is reached: how many, and their middle. `isCut` when they reach the border of the
   * grid: the region then goes on beyond it, and its middle is that of the grid asked for, not of the hip.
   */
  readonly region: {
    readonly cells: number;
    readonly center: MapCell | undefined;
    readonly isCut: boolean;
  };
  /** The orientation with the largest least margin; `isOnBorder` when a wider grid may hold a better one. */
  readonly best: MapCell & { readonly isOnBorder: boolean };
}

/**
 * Orientation map: the least prosthetic margin over a set of poses, for every cup orientation of a grid.
 *
 * Frame: pelvis; radiographic inclination and anteversion.
 * Units: degrees in, degrees out.
 * Domain: at least one pose and one orientation; steps positive; orientations as `cupAxis` says; RangeError otherwise.
 * Method: poses do not depend on the cup, so each posed neck is found once. At each orientation the pose that leans
 * furthest comes first; another is looked at only if the least half oscillation angle of any azimuth could make it worse.
 * Ties as `worstProstheticMargin`. The region is where no margin is negative; its center is the region's cell nearest to
 * the mean of its cells; the best cell is the earliest with the largest margin.
 * Source: ours; oscillation-2005 maps the same kind of region (abstract read).
 * Checked: cell by cell against `prostheticMargin` in tests/biomechanics/range/orientation-map.test.ts.
 * Limits: neck and rim only. A region is where the poses of one set are reached, not where a hip stays stable: margin alone
 * favors steep cups, which hold the head less. Center and best cell are of the grid asked for; see `isCut`, `isOnBorder`.
 *
 * @example
 * // 36 mm head, 12 mm neck, stem 15, neck-shaft angle 135, flat rim; the four poses of oscillation-2001
 * orientationMap({ hip, inclination: { from: degrees(20), to: degrees(60), step: degrees(2) }, anteversion: { from:
 * degrees(0), to: degrees(40), step: degrees(2) }, poses }).best
 * //=> inclination 58, anteversion 10, margin 17.23 (degrees, rounded), motion 'internal rotation at 90', isOnBorder false
 */
export function orientationMap({
  hip,
  inclination,
  anteversion,
  poses,
}: OrientationMapInput): OrientationMap {
  if (poses.length === 0) throw new RangeError('an orientation map needs at least one pose');
  const inclinations = steps('inclination', inclination);
  const anteversions = steps('anteversion', anteversion);
  const margins = new Float64Array(inclinations.length * anteversions.length);
  const limiting = new Uint16Array(margins.length);
  const asked = { joint: neckInLiner(hip.liner, hip.neck), ...posedNecks(hip.stem, poses) };
  const rows = turnsOf('inclination', inclinations);
  const columns = turnsOf('anteversion', anteversions);
  rows.forEach((row, i) => {
    columns.forEach((column, j) => {
      // `cupAxis`, with each sine and cosine taken once: a unit vector, and the opening's own where no face is turned.
      const cup = pelvisVector(column.sine, -column.cosine * row.cosine, column.cosine * row.sine);
      const axis = hip.liner.faceTurn ? openingAxis(cup, hip.liner.faceTurn) : cup;
      const worst = worstOf(axis, asked);
      margins[i * columns.length + j] = worst.margin;
      limiting[i * columns.length + j] = worst.index;
    });
  });
  const grid = { inclinations, anteversions, margins, limiting };
  const cell = (index: number): MapCell => cellAt(grid, poses, index);
  const best = indexOfLargest(margins);
  return {
    ...grid,
    region: regionOf(grid, cell),
    best: { ...cell(best), isOnBorder: isOnBorder(grid, best) },
  };
}

/** Sine and cosine of each angle of a grid, each of a possible cup. */
function turnsOf(
  angle: 'inclination' | 'anteversion',
  values: readonly Degrees[],
): readonly { readonly sine: number; readonly cosine: number }[] {
  return values.map((value) => {
    assertCupAngle(angle, 'radiographic', value);
    return { sine: sinDeg(value), cosine: cosDeg(value) };
  });
}

type Grid = Pick<OrientationMap, 'inclinations' | 'anteversions' | 'margins' | 'limiting'>;

/** The joint, and its neck in every pose; the axes once more as bare numbers, and room for a cosine of each. */
interface AskedPoses {
  readonly joint: NeckInLiner;
  readonly necks: readonly PosedNeck[];
  readonly axes: Float64Array;
  readonly cosines: Float64Array;
}

function posedNecks(stem: StemOrientation, poses: readonly NamedPose[]): Omit<AskedPoses, 'joint'> {
  const hip = { neckAxis: neckAxis(stem), flatNormal: flatNormalOf(stem) };
  const necks = poses.map((pose) => posedNeck(hip, pose));
  return {
    necks,
    axes: Float64Array.from(necks.flatMap(({ axis }) => [...axis])),
    cosines: new Float64Array(necks.length),
  };
}

/** Cosines this near the limit are looked at, so that a tie of rounded margins is seen. */
const TIE = 1e-7;

interface Worst {
  readonly margin: number;
  readonly index: number;
}

function worstOf(axis: Vec3<'pelvis'>, asked: AskedPoses): Worst {
  const { joint, axes, cosines } = asked;
  const [x, y, z] = axis;
  let furthest = 0;
  for (let index = 0, at = 0; index < cosines.length; index += 1, at += 3) {
    const cosine = x * (axes[at] ?? NaN) + y * (axes[at + 1] ?? NaN) + z * (axes[at + 2] ?? NaN);
    cosines[index] = cosine;
    if (cosine < (cosines[furthest] ?? NaN)) furthest = index;
  }
  const marginAt = marginsOf(axis, asked);
  let worst: Worst = { margin: marginAt(furthest), index: furthest };
  let limit = limitOf(joint, worst);
  for (let index = 0; index < cosines.length; index += 1) {
    if (index === furthest || (cosines[index] ?? NaN) > limit) continue;
    const found = { margin: marginAt(index), index };
    if (isWorse(found, worst)) {
      worst = found;
      limit = limitOf(joint, worst);
    }
  }
  return worst;
}

function isWorse(one: Worst, other: Worst): boolean {
  const difference = roundForUnit(one.margin, 'deg') - roundForUnit(other.margin, 'deg');
  return difference < 0 || (difference === 0 && one.index < other.index);
}

/** Margins of one opening by pose; where the rim is even its axis is all that counts. */
function marginsOf(axis: Vec3<'pelvis'>, { joint, necks }: AskedPoses): (index: number) => number {
  const neckOf = (index: number): PosedNeck => {
    const neck = necks[index];
    if (!neck) throw new TypeError(`no pose ${index}`);
    return neck;
  };
  const half = joint.evenHalf;
  if (half !== undefined) return (index) => half - angleBetweenUnits(axis, neckOf(index).axis);
  const opening = openingFrame(axis);
  return (index) => posedMargin({ joint, opening }, neckOf(index)).margin;
}

/** Cosine beyond which no pose can have a margin as small as the worst one found, whatever its azimuth. */
function limitOf({ leastHalf }: NeckInLiner, { margin }: Worst): number {
  return cosDeg(Math.max(0, leastHalf - margin)) + TIE;
}

function cellAt(
  { inclinations, anteversions, margins, limiting }: Grid,
  poses: readonly NamedPose[],
  index: number,
): MapCell {
  const inclination = inclinations[Math.floor(index / anteversions.length)];
  const anteversion = anteversions[index % anteversions.length];
  const motion = poses[limiting[index] ?? -1]?.name;
  if (inclination === undefined || anteversion === undefined || motion === undefined) {
    throw new TypeError(`no cell ${index} in the map`);
  }
  return { inclination, anteversion, margin: degrees(margins[index] ?? NaN), motion };
}

/** Half the step margins are reported in: a margin this little below 0 is reported as 0. */
const HALF_STEP = 5e-7;

function indexOfLargest(margins: Float64Array): number {
  let best = 0;
  let most = margins[0] ?? NaN;
  for (let index = 1; index < margins.length; index += 1) {
    const margin = margins[index] ?? NaN;
    // Only one that is larger as reported takes over: the earliest of equals stays.
    if (margin > most && roundForUnit(margin, 'deg') > roundForUnit(most, 'deg'))
      [best, most] = [index, margin];
  }
  return best;
}

function isOnBorder({ inclinations, anteversions }: Grid, index: number): boolean {
  const [row, column] = [Math.floor(index / anteversions.length), index % anteversions.length];
  return row === 0 || column === 0 || row === inclinations.length - 1 || column === anteversions.length - 1;
}

function regionOf(grid: Grid, cell: (index: number) => MapCell): OrientationMap['region'] {
  const { margins } = grid;
  const columns = grid.anteversions.length;
  const inside = [...margins.keys()].filter((index) => (margins[index] ?? -1) >= -HALF_STEP);
  if (inside.length === 0) return { cells: 0, center: undefined, isCut: false };
  const mean = (of: (index: number) => number): number =>
    inside.reduce((sum, index) => sum + of(index), 0) / inside.length;
  const [row, column] = [mean((index) => Math.floor(index / columns)), mean((index) => index % columns)];
  const away = (index: number): number =>
    (Math.floor(index / columns) - row) ** 2 + ((index % columns) - column) ** 2;
  const center = inside.reduce((best, index) => (away(index) < away(best) - 1e-9 ? index : best));
  return {
    cells: inside.length,
    center: cell(center),
    isCut: inside.some((index) => isOnBorder(grid, index)),
  };
}

function steps(name: string, { from, to, step }: MapAxis): readonly Degrees[] {
  if (!(step > 0 && to >= from)) {
    throw new RangeError(
      `${name} needs a positive step and an end not below its start, got ${from} to ${to} by ${step}`,
    );
  }
  const count = Math.floor((to - from) / step + 1e-9) + 1;
  return Array.from({ length: count }, (_, index) => degrees(from + index * step));
}
