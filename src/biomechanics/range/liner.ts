import { degrees, type Degrees, type Millimetres } from '../../base/units.js';
import { asinDeg, atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';
import { normalise, pelvisVector, type Vec3 } from '../vector.js';

/** A part of the rim that stands higher than the rest. */
export interface RimElevation {
  /**
   * `on-sphere`: the lip follows the sphere through the rim about the head center, its top faces the center.
   * `straight-wall`: the bore goes on as a cylinder of the head's diameter, the top is parallel to the opening plane.
   */
  readonly shape: 'on-sphere' | 'straight-wall';
  /** Cover the elevation adds, seen from the head center. */
  readonly angle: Degrees;
  /** Extent along the rim at full elevation. */
  readonly arc: Degrees;
  /** Rim azimuth of its middle: 0 cranial, 90 anterior, 180 caudal, 270 posterior. */
  readonly azimuth: Degrees;
  /** Extent along the rim, at each end, over which the elevation falls evenly to the rest of the rim. */
  readonly ramp: Degrees;
}

/** A bevel between bore and opening plane. */
export interface RimChamfer {
  /** Along the cup axis. */
  readonly depth: Millimetres;
  /** Against the cup axis; 90 would be the opening plane itself. */
  readonly angle: Degrees;
}

/** A turn of the liner's opening against the cup's. */
export interface FaceTurn {
  readonly angle: Degrees;
  /** Rim azimuth the opening leans toward; the raised side lies opposite. */
  readonly toward: Degrees;
}

/** The inside of a liner near its rim. */
export interface Liner {
  /** Diameter of what turns in it: the head, or the mobile liner of a dual mobility bearing. */
  readonly bore: Millimetres;
  /** Center of the bore against the opening plane; positive outside, negative inset. */
  readonly centerOffset: Millimetres;
  /** Breadth of the rim beyond the bore (or the chamfer). */
  readonly wall: Millimetres;
  /** Opening seen from the center: 180 for a hemisphere, less for a liner that holds the head. */
  readonly opening: Degrees;
  readonly chamfer?: RimChamfer;
  readonly elevation?: RimElevation;
  readonly faceTurn?: FaceTurn;
}

/** A point of the rim's section: distance from the cup axis, and height above the center toward the opening, in mm. */
export interface MeridianPoint {
  readonly radius: number;
  readonly height: number;
}

/** Half an opening, in degrees: the angle between the cup axis and the flat rim's edge, seen from the center. */
export function rimPolar(liner: Liner): number {
  const radius = liner.bore / 2;
  if (liner.opening < 180) return liner.opening / 2;
  return liner.centerOffset >= 0
    ? 90 + asinDeg(liner.centerOffset / radius)
    : atan2Deg(radius, 0 - liner.centerOffset);
}

function assertLiner({ bore, centerOffset, wall, opening, chamfer, elevation, faceTurn }: Liner): void {
  if (!(bore > 0)) throw new RangeError(`bore must be positive, got ${bore} mm`);
  if (!(Math.abs(centerOffset) < bore / 2)) {
    throw new RangeError(
      `center offset must be smaller than the bore's radius ${bore / 2} mm, got ${centerOffset} mm`,
    );
  }
  if (!(wall > 0)) throw new RangeError(`wall must be positive, got ${wall} mm`);
  if (!(opening > 0 && opening <= 180)) {
    throw new RangeError(`opening must lie in (0, 180] degrees, got ${opening}`);
  }
  if (opening < 180 && centerOffset !== 0) {
    throw new RangeError(
      `an opening of ${opening} degrees already says where the rim stands: center offset must be 0, got ${centerOffset} mm`,
    );
  }
  if (
    chamfer &&
    !(chamfer.depth > 0 && chamfer.depth < bore / 4 && chamfer.angle > 0 && chamfer.angle < 90)
  ) {
    throw new RangeError(
      `a chamfer needs a depth in (0, ${bore / 4}) mm and an angle in (0, 90) degrees, got ${chamfer.depth} mm at ${chamfer.angle}`,
    );
  }
  if (chamfer && opening < 180)
    throw new RangeError('a chamfer on an opening below 180 degrees is not modelled');
  if (elevation) assertElevation(elevation);
  if (chamfer && elevation && elevation.ramp > 0) {
    throw new RangeError('a chamfer beside an elevation with ramps is not modelled');
  }
  if (faceTurn && !(faceTurn.angle >= 0 && faceTurn.angle < 45)) {
    throw new RangeError(`a face turn must lie in [0, 45) degrees, got ${faceTurn.angle}`);
  }
}

function assertElevation({ angle, arc, azimuth, ramp }: RimElevation): void {
  if (!Number.isFinite(azimuth)) throw new RangeError(`an elevation needs a finite azimuth, got ${azimuth}`);
  if (!(angle > 0 && angle < 60)) {
    throw new RangeError(`an elevation must lie in (0, 60) degrees, got ${angle}`);
  }
  if (!(arc > 0 && ramp >= 0 && arc + 2 * ramp < 360)) {
    throw new RangeError(
      `an elevation and its ramps must go round less than 360 degrees, got ${arc} + 2 x ${ramp}`,
    );
  }
}

/**
 * Section of the rim in a plane through the cup axis, from the bore outward, at a share of the elevation.
 *
 * Frame: the liner's own: height along its opening axis from the center, radius from that axis.
 * Units: millimetres; the share without unit, 0 away from the elevation, 1 at its full height.
 * Domain: as the fields of `Liner` say; RangeError outside.
 * Method: the rim lies on the head's sphere when the center is outside the opening plane or the opening is below 180
 * degrees, and on a cylinder of the bore's diameter above the equator when the center is inset. A chamfer cuts the edge
 * off by a cone. An elevation on the sphere turns the rim point by its angle about the center and its top is radial; a
 * straight wall raises the cylinder until its edge adds the same angle.
 * Source: ours; oscillation-2001 and oscillation-2008 use the flat rim (abstracts read).
 * Checked: closed forms in tests/biomechanics/range/half-oscillation.test.ts, meshes in tests/biomechanics/mesh-contact.test.ts.
 * Limits: sharp edges; the outside of the shell and the bone around it are not part of it.
 *
 * @example
 * rimSection({ bore: millimetres(28), centerOffset: millimetres(0), wall: millimetres(5), opening: degrees(180) }, 0)
 * //=> [{ radius: 14, height: 0 }, { radius: 19, height: 0 }] (mm)
 */
export function rimSection(liner: Liner, share: number): readonly MeridianPoint[] {
  assertLiner(liner);
  const { elevation, wall } = liner;
  const radius = liner.bore / 2;
  const polar = rimPolar(liner);
  const distance = liner.centerOffset < 0 ? Math.hypot(radius, liner.centerOffset) : radius;
  if (!elevation || share === 0) return plainSection(liner, at(distance, polar));
  const raised = polar - share * elevation.angle;
  if (!(raised > 0))
    throw new RangeError(`an elevation of ${elevation.angle} degrees would close the opening`);
  if (elevation.shape === 'on-sphere') {
    return [...baseOfWall(liner), at(distance, polar), at(distance, raised), at(distance + wall, raised)];
  }
  if (raised >= 90) {
    const edge = at(radius, raised);
    return [edge, { radius: edge.radius + wall, height: edge.height }];
  }
  const height = (radius * cosDeg(raised)) / sinDeg(raised);
  return [
    { radius, height: 0 },
    { radius, height },
    { radius: radius + wall, height },
  ];
}

function at(distance: number, polar: number): MeridianPoint {
  return { radius: distance * sinDeg(polar), height: distance * cosDeg(polar) };
}

/** Where a cylindrical wall begins: at the equator. A rim on the head's sphere has none. */
function baseOfWall({ bore, centerOffset }: Liner): readonly MeridianPoint[] {
  return centerOffset < 0 ? [{ radius: bore / 2, height: 0 }] : [];
}

function plainSection(liner: Liner, rim: MeridianPoint): readonly MeridianPoint[] {
  const { chamfer, wall } = liner;
  if (!chamfer) return [...baseOfWall(liner), rim, { radius: rim.radius + wall, height: rim.height }];
  const bore = liner.bore / 2;
  const inner = rim.height - chamfer.depth;
  const edge = inner >= 0 ? bore : Math.sqrt(bore ** 2 - inner ** 2);
  const outer = edge + (chamfer.depth * sinDeg(chamfer.angle)) / cosDeg(chamfer.angle);
  return [
    ...(inner > 0 ? baseOfWall(liner) : []),
    { radius: edge, height: inner },
    { radius: outer, height: rim.height },
    { radius: outer + wall, height: rim.height },
  ];
}

/**
 * Which share of its full height the elevation has at a rim azimuth.
 *
 * Frame: the rim.
 * Units: degrees in; a share in [0, 1] out.
 * Domain: any azimuth.
 * Method: 1 over the arc, falling evenly to 0 over the ramps, 0 elsewhere.
 * Source: ours.
 * Checked: tests/biomechanics/range/half-oscillation.test.ts.
 * Limits: real lips are rounded.
 *
 * @example
 * elevationShare({ shape: 'on-sphere', angle: degrees(15), arc: degrees(90), azimuth: degrees(225), ramp: degrees(20) }, degrees(280))
 * //=> 0.5
 */
export function elevationShare({ arc, azimuth, ramp }: RimElevation, at: Degrees): number {
  const beyond = Math.abs(turnBetween(azimuth, at)) - arc / 2;
  if (beyond <= 0) return 1;
  return beyond >= ramp ? 0 : 1 - beyond / ramp;
}

/** The shorter way round from one azimuth to another, in [-180, 180). */
export function turnBetween(from: number, to: number): number {
  const turn = (to - from + 180) % 360;
  return (turn < 0 ? turn + 360 : turn) - 180;
}

/**
 * The direction of a rim azimuth, in the opening plane of an axis.
 *
 * Frame: pelvis; azimuth 0 cranial, 90 anterior, 180 caudal, 270 posterior.
 * Units: degrees in; a unit vector without unit out.
 * Domain: axes that open laterally (z > 0); RangeError otherwise.
 * Method: e0 = unit(Y - (Y.a) a), e90 = unit(Y x a); direction = e0 cos + e90 sin.
 * Source: ours; this zero and this sense are the project's convention.
 * Checked: inverse of `rimAzimuth` in tests/biomechanics/range/half-oscillation.test.ts.
 * Limits: none.
 *
 * @example
 * rimDirection(pelvisVector(0, 0, 1), degrees(90))
 * //=> [1, 0, 0]
 */
export function rimDirection(axis: Vec3<'pelvis'>, azimuth: Degrees): Vec3<'pelvis'> {
  if (!(axis[2] > 0)) throw new RangeError(`a cup axis must open laterally (z > 0), got z = ${axis[2]}`);
  const [x, y, z] = normalise(axis);
  const across = Math.hypot(z, x);
  const [cosine, sine] = [cosDeg(azimuth), sinDeg(azimuth)];
  // Y x a = (z, 0, -x); Y - (Y.a) a = (-x y, 1 - y y, -y z), of the same length.
  return pelvisVector(
    (-x * y * cosine + z * sine) / across,
    (across * across * cosine) / across,
    (-y * z * cosine - x * sine) / across,
  );
}

/**
 * Axis of a liner's opening, for a liner whose face is turned against the cup.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in; a unit vector without unit out.
 * Domain: axes that open laterally (z > 0), turns in [0, 45) degrees; RangeError otherwise.
 * Method: a cos t + e sin t, with e the rim direction the opening leans toward.
 * Source: ours; a turn keeps the shape of the opening, so it adds no cover.
 * Checked: tests/biomechanics/range/half-oscillation.test.ts.
 * Limits: turns about the center of the bore.
 *
 * @example
 * openingAxis(pelvisVector(0, -1, 1), { angle: degrees(10), toward: degrees(90) })
 * //=> [0.1736, -0.6964, 0.6964] (rounded): ten degrees more anteverted
 */
export function openingAxis(axis: Vec3<'pelvis'>, turn: FaceTurn | undefined): Vec3<'pelvis'> {
  const unit = normalise(axis);
  if (!turn || turn.angle === 0) return unit;
  if (!(turn.angle > 0 && turn.angle < 45)) {
    throw new RangeError(`a face turn must lie in [0, 45) degrees, got ${turn.angle}`);
  }
  const toward = rimDirection(unit, turn.toward);
  const [cosine, sine] = [cosDeg(turn.angle), sinDeg(turn.angle)];
  return normalise(
    pelvisVector(
      unit[0] * cosine + toward[0] * sine,
      unit[1] * cosine + toward[1] * sine,
      unit[2] * cosine + toward[2] * sine,
    ),
  );
}

/**
 * Cover that a lip of a given height adds on the head's sphere.
 *
 * Frame: the liner's own.
 * Units: millimetres in, degrees out.
 * Domain: height in [0, bore radius); RangeError outside.
 * Method: the height of a point on the sphere above the opening plane: asin(height / radius).
 * Source: ours.
 * Checked: tests/biomechanics/range/half-oscillation.test.ts.
 * Limits: center in the opening plane.
 *
 * @example
 * elevationFromHeight(millimetres(7), millimetres(28))
 * //=> 30 (degrees)
 */
export function elevationFromHeight(height: Millimetres, bore: Millimetres): Degrees {
  if (!(height >= 0 && height < bore / 2)) {
    throw new RangeError(`a lip must be lower than the bore's radius ${bore / 2} mm, got ${height} mm`);
  }
  return degrees(asinDeg(height / (bore / 2)));
}
