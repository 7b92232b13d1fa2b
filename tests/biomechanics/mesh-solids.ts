import { Vector2, type BufferGeometry } from 'three';
import type { Liner, RimElevation } from '../../src/biomechanics/range/liner.js';
import type { Neck } from '../../src/biomechanics/range/neck.js';
import { spread, TriangleSoup, type Corner } from './triangle-soup.js';

/*
 * Triangle meshes of a liner and of a neck, built from what the fields of `Liner` and `Neck` say and from nothing else
 * of the code under test.
 *
 * Liner frame: z along the opening axis from the head center, y at azimuth 0, x at azimuth 90. Neck frame: z along the
 * neck from the head center, x the normal of the flats. Millimetres.
 *
 * Curves become chords with their ends on the curve, on both solids: the opening comes out too narrow and the neck too
 * thin. With 360 chords round a liner and 256 round a neck each is wrong by less than 0.001 mm, or 0.004 degrees at the
 * rim of the smallest head; the two errors oppose each other. Solids that belong together are closed meshes that
 * overlap, because collision asks only whether surfaces cross.
 */

/** A point of a section through the axis: x the distance from the axis, y the height along it. */
type SectionPoint = Vector2;

/** A point of the inner surface and the one of the outer surface beside it. */
interface WallPair {
  readonly inner: SectionPoint;
  readonly outer: SectionPoint;
}

const LINER_CHORDS = 360;
const NECK_CHORDS = 256;
const RAMP_CHORDS = 200;
const NECK_LENGTH = 60;
/** Heights at which the long sides of a neck are divided, so that no triangle is much longer than the rim is broad. */
const NECK_DIVISION = 5;
/** How far below the rim the bore is modelled, seen from the center. */
const BORE_BELOW_RIM = 40;
/** How far below the rim a raised part begins. */
const LIP_BELOW_RIM = 35;

const RADIANS = Math.PI / 180;

function onSphere(distance: number, polar: number): SectionPoint {
  return new Vector2(distance * Math.sin(polar * RADIANS), distance * Math.cos(polar * RADIANS));
}

function round(point: SectionPoint, azimuth: number): Corner {
  return [point.x * Math.sin(azimuth * RADIANS), point.x * Math.cos(azimuth * RADIANS), point.y];
}

/** Where the flat rim meets the bore, before any chamfer. */
function rimPoint({ bore, centerOffset, opening }: Liner): SectionPoint {
  const radius = bore / 2;
  if (opening < 180) return onSphere(radius, opening / 2);
  return centerOffset < 0
    ? new Vector2(radius, 0 - centerOffset)
    : new Vector2(Math.sqrt(radius ** 2 - centerOffset ** 2), 0 - centerOffset);
}

function polarOf(point: SectionPoint): number {
  return Math.atan2(point.x, point.y) / RADIANS;
}

/** The bore from below up to a height: a sphere up to the equator or the height, a cylinder from the equator on. */
function boreUpTo(radius: number, height: number, belowRim: number): readonly SectionPoint[] {
  const end = height >= 0 ? 90 : Math.acos(height / radius) / RADIANS;
  const sphere = spread(Math.min(150, end + belowRim), end, 3).map((polar) => onSphere(radius, polar));
  return height > 0 ? [...sphere, new Vector2(radius, height)] : sphere;
}

/** The closed section of a liner without elevation. */
function flatSection(liner: Liner): readonly SectionPoint[] {
  const radius = liner.bore / 2;
  const rim = rimPoint(liner);
  const points = flatBore(liner, radius, rim);
  const edge = points.at(-1)?.x ?? rim.x;
  const bottom = points[0]?.y ?? -radius;
  return [...points, new Vector2(edge + liner.wall, rim.y), new Vector2(edge + liner.wall, bottom)];
}

function flatBore({ opening, chamfer }: Liner, radius: number, rim: SectionPoint): readonly SectionPoint[] {
  if (opening < 180) {
    return spread(90 + BORE_BELOW_RIM, polarOf(rim), 3).map((polar) => onSphere(radius, polar));
  }
  if (!chamfer) return boreUpTo(radius, rim.y, BORE_BELOW_RIM);
  const bore = boreUpTo(radius, rim.y - chamfer.depth, BORE_BELOW_RIM);
  const inner = bore.at(-1)?.x ?? radius;
  return [...bore, new Vector2(inner + chamfer.depth * Math.tan(chamfer.angle * RADIANS), rim.y)];
}

/** The wall of a raised part from below the rim to its top, at a share of its elevation. */
function raisedWall(liner: Liner, elevation: RimElevation, share: number): readonly WallPair[] {
  const rim = rimPoint(liner);
  const raised = polarOf(rim) - share * elevation.angle;
  return elevation.shape === 'on-sphere'
    ? wallOnSphere(liner, rim, raised, Math.ceil(elevation.angle))
    : straightWall(liner, raised);
}

function wallOnSphere(liner: Liner, rim: SectionPoint, raised: number, rows: number): readonly WallPair[] {
  const distance = rim.length();
  const below = boreUpTo(liner.bore / 2, rim.y, LIP_BELOW_RIM).map((inner) =>
    beside(inner, rim.x + liner.wall),
  );
  const lip = Array.from({ length: rows + 1 }, (_, index) => {
    const polar = polarOf(rim) + ((raised - polarOf(rim)) * index) / rows;
    return { inner: onSphere(distance, polar), outer: onSphere(distance + liner.wall, polar) };
  });
  return [...below, ...lip];
}

/** A sphere up to the equator or the top, a cylinder from the equator on; as many points whatever the top. */
function straightWall({ bore, wall }: Liner, raised: number): readonly WallPair[] {
  const radius = bore / 2;
  const top =
    raised < 90 ? new Vector2(radius, radius / Math.tan(raised * RADIANS)) : onSphere(radius, raised);
  const below = spread(90 + LIP_BELOW_RIM, 90, 5).map((polar) => onSphere(radius, Math.max(polar, raised)));
  return [...below, top].map((inner) => beside(inner, top.x + wall));
}

function beside(inner: SectionPoint, outerRadius: number): WallPair {
  return { inner, outer: new Vector2(outerRadius, inner.y) };
}

/** Azimuths of a raised part, from one end to the other, with the share of the elevation at each. */
function columns({ arc, azimuth, ramp }: RimElevation): readonly { azimuth: number; share: number }[] {
  const step = 360 / LINER_CHORDS;
  const level = spread(azimuth - arc / 2, azimuth + arc / 2, step).map((at) => ({ azimuth: at, share: 1 }));
  if (ramp === 0) return level;
  const shares = Array.from({ length: RAMP_CHORDS }, (_, index) => index / RAMP_CHORDS);
  const outer = (share: number): number => arc / 2 + ramp * (1 - share);
  return [
    ...shares.map((share) => ({ azimuth: azimuth - outer(share), share })),
    ...level,
    ...shares.toReversed().map((share) => ({ azimuth: azimuth + outer(share), share })),
  ];
}

function addRaisedPart(soup: TriangleSoup, liner: Liner, elevation: RimElevation): void {
  const walls = columns(elevation).map(({ azimuth, share }) =>
    raisedWall(liner, elevation, share).map(
      ({ inner, outer }) => [round(inner, azimuth), round(outer, azimuth)] as const,
    ),
  );
  for (const [index, wall] of walls.entries()) {
    const before = walls[index - 1];
    if (!before || index === walls.length - 1) addEndWall(soup, wall);
    if (before) addBetween(soup, before, wall);
  }
}

/** A column of a raised part: its inner and outer points, from below upward. */
type WallColumn = readonly (readonly [inner: Corner, outer: Corner])[];

function addEndWall(soup: TriangleSoup, wall: WallColumn): void {
  for (const [row, [inner, outer]] of wall.entries()) {
    const below = wall[row - 1];
    if (below) soup.quad(below[0], below[1], outer, inner);
  }
}

/** Inner and outer surface, top and underside between two columns. */
function addBetween(soup: TriangleSoup, left: WallColumn, right: WallColumn): void {
  for (const [row, [inner, outer]] of right.entries()) {
    const across = left[row];
    if (!across) throw new Error('columns of one wall have as many points each');
    if (row === 0 || row === right.length - 1) soup.quad(across[0], across[1], outer, inner);
    const [below, acrossBelow] = [right[row - 1], left[row - 1]];
    if (!below || !acrossBelow) continue;
    soup.quad(acrossBelow[0], below[0], inner, across[0]);
    soup.quad(acrossBelow[1], below[1], outer, across[1]);
  }
}

/** The part of a liner near its rim, about its opening axis. */
export function linerMesh(liner: Liner): BufferGeometry {
  const soup = new TriangleSoup();
  const section = flatSection(liner);
  const azimuths = spread(0, 360, 360 / LINER_CHORDS);
  for (const [index, to] of azimuths.entries()) {
    const from = azimuths[index - 1];
    if (from === undefined) continue;
    for (const [row, point] of section.entries()) {
      const next = section[(row + 1) % section.length] ?? point;
      soup.quad(round(point, from), round(point, to), round(next, to), round(next, from));
    }
  }
  if (liner.elevation) addRaisedPart(soup, liner, liner.elevation);
  return soup.geometry();
}

/** Outline of a neck's cross section: a disc, or a disc cut by two parallel flats whose normal is x. */
function outline(diameter: number, flats: number): readonly (readonly [number, number])[] {
  const radius = diameter / 2;
  const corner = Math.acos(flats / diameter) / RADIANS;
  const step = 360 / NECK_CHORDS;
  const arcs = [...spread(corner, 180 - corner, step), ...spread(180 + corner, 360 - corner, step)];
  return arcs.map((angle) => [radius * Math.cos(angle * RADIANS), radius * Math.sin(angle * RADIANS)]);
}

function addPrism(
  soup: TriangleSoup,
  shape: readonly (readonly [number, number])[],
  start: number,
  end: number,
): void {
  const levels = spread(start, end, NECK_DIVISION);
  for (const [index, [x, y]] of shape.entries()) {
    const [nextX, nextY] = shape[(index + 1) % shape.length] ?? [x, y];
    for (const level of [start, end]) soup.triangle([0, 0, level], [x, y, level], [nextX, nextY, level]);
    for (const [row, top] of levels.entries()) {
      const bottom = levels[row - 1];
      if (bottom === undefined) continue;
      soup.quad([x, y, bottom], [nextX, nextY, bottom], [nextX, nextY, top], [x, y, top]);
    }
  }
}

/** A neck with what sits on it, about its axis, to 60 mm from the head center. */
export function neckMesh({ diameter, flats, taper, skirt }: Neck): BufferGeometry {
  const soup = new TriangleSoup();
  addPrism(soup, outline(diameter, flats ?? diameter), taper?.length ?? 0, NECK_LENGTH);
  if (taper) addPrism(soup, outline(taper.diameter, taper.diameter), 0, taper.length);
  if (skirt) addPrism(soup, outline(skirt.diameter, skirt.diameter), 0, skirt.length);
  return soup.geometry();
}
