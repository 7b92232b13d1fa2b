import { millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { circularSections, type Cone } from './circular-section.js';
import { cupOrientationFromAxis, type CupOrientation } from './cup-orientation.js';
import { anteversionFromEllipse, type FilmReading } from './film-reading.js';
import { projectedRim, type Exposure, type ProjectedRim } from './rim-projection.js';
import { cosDeg, sinDeg } from '../trigonometry.js';
import { dot, pelvisVector, type Vec3 } from '../vector.js';

/** Which side of the rim the source looks at: into the cup's opening, or at its back. */
export type Facing = 'source' | 'detector';

/**
 * The cups that draw one ellipse: two as a rule, one where the other would open toward the midline. A cup that opens
 * toward the source is anteverted by more, one that opens toward the detector by less, than the ray through it is
 * oblique.
 */
export type CupsOfProjectedRim = Readonly<Partial<Record<Facing, CupOrientation<'radiographic'>>>>;

/** The cone over the ellipse, its apex at the source, scaled so that the square across the long axis weighs 1. */
function coneOver(rim: ProjectedRim, distance: Millimetres): Cone {
  const [sin, cos] = [sinDeg(rim.inclination), cosDeg(rim.inclination)];
  const [y, z] = [rim.centerCranial / distance, rim.centerLateral / distance];
  const ratio = rim.minorAxis / rim.majorAxis;
  const half = rim.minorAxis / (2 * distance);
  // Linear forms that are 0 on the ellipse's own axes; x = -1 on the detector.
  const alongAxis = pelvisVector(y * sin + z * cos, sin, cos);
  const acrossAxis = pelvisVector(z * sin - y * cos, -cos, sin);
  return [
    { weight: ratio * ratio, vector: alongAxis },
    { weight: 1, vector: acrossAxis },
    { weight: -half * half, vector: pelvisVector(1, 0, 0) },
  ];
}

/** The normal of a plane, pointing along the image's short axis on its lateral end, as the cups of an ellipse do. */
function alongShortAxis(normal: Vec3<'pelvis'>, inclination: Degrees): Vec3<'pelvis'> {
  const [x, y, z] = normal;
  const along = z * sinDeg(inclination) - y * cosDeg(inclination);
  return along < 0 ? pelvisVector(0 - x, 0 - y, 0 - z) : normal;
}

/** The cup with an axis; none when it would open toward the midline. */
function cupAlong(axis: Vec3<'pelvis'>): CupOrientation<'radiographic'> | undefined {
  return axis[2] > 0 ? cupOrientationFromAxis(axis, 'radiographic') : undefined;
}

/**
 * The cups whose rim draws a given ellipse, with the beam coming from a point; the inverse of `projectedRim`.
 *
 * Frame: as `projectedRim`. The ellipse lies on the detector, its center measured from where the central beam meets it.
 * Units: millimetres on the film and degrees in, degrees out. Neither the size of the rim nor the height of the hip is
 * needed: the place and the shape of the ellipse give the direction of the cup.
 * Domain: axes as `anteversionFromEllipse`, distance above 0; RangeError outside. A cup that would open toward the
 * midline is left out.
 * Method: Q = (b/a)^2 E E' + F F' - (b/D)^2 X X' is the cone over the ellipse (a, b half axes; E, F planes
 * through its own axes); `circularSections` gives the two planes that cut a circle from it.
 * Source: ours; circular sections of a cone.
 * Checked: round trip with rims projected by three and fitted by least squares, to 1e-6 degrees, in
 * tests/biomechanics/orientation/cup-from-projected-rim.test.ts.
 * Limits: one film leaves two cups, and both may be anteverted when the hip lies beside the beam: which one it is must
 * come from a lateral film, a CT or the operation. Made for inclination 20-100, anteversion within 60 and a hip within
 * 150 mm of the beam; far outside a cup may be missed or named for the other side. Where the two meet (minor axis near
 * 0) double precision gives 1e-6 degrees; measured axes give far less: 0.5 mm on a minor axis of 1 mm is 0.5 degrees.
 *
 * @example
 * cupsFromProjectedRim(
 *   {
 *     majorAxis: millimetres(59.0347),
 *     minorAxis: millimetres(11.3306),
 *     inclination: degrees(40.895),
 *     centerLateral: millimetres(105.8288),
 *     centerCranial: millimetres(0.1658),
 *   },
 *   millimetres(1000),
 * )
 * //=> source 40.00/15.00, detector 41.79/-7.09 (degrees, rounded)
 */
export function cupsFromProjectedRim(
  rim: ProjectedRim,
  sourceDetectorDistance: Millimetres,
): CupsOfProjectedRim {
  anteversionFromEllipse(rim);
  if (!(sourceDetectorDistance > 0)) {
    throw new RangeError(`source-detector distance must be above 0 mm, got ${sourceDetectorDistance}`);
  }
  const cone = coneOver(rim, sourceDetectorDistance);
  const ray = pelvisVector(0 - sourceDetectorDistance, rim.centerCranial, rim.centerLateral);
  const [first, second] = circularSections(cone);
  const [one, other] = [alongShortAxis(first, rim.inclination), alongShortAxis(second, rim.inclination)];
  const [source, detector] = (dot(one, ray) <= dot(other, ray) ? [one, other] : [other, one]).map(cupAlong);
  return { ...(source && { source }), ...(detector && { detector }) };
}

/** Steps before the correction is given up; each one makes what is left about a thousand times smaller. */
const STEPS = 20;
/** In degrees and in ratio of axes: far below any reading, well above rounding. */
const SETTLED = 1e-10;

/** An AP reading taken as if the beam were parallel, and the exposure it was taken in. */
export interface OffCenterReading {
  readonly reading: FilmReading;
  readonly exposure: Exposure;
  readonly rimRadius: Millimetres;
  /** Known from elsewhere: the film shows both alike. */
  readonly facing: Facing;
}

/**
 * The cup behind an AP reading whose beam was not centered on the hip, when the geometry of the exposure is known.
 *
 * Frame: as `projectedRim`.
 * Units: degrees and millimetres in, degrees out.
 * Domain: inclination in (0, 180), anteversion size below 90, the domain of `projectedRim`; RangeError outside, where
 * no cup reads so, and when 20 steps do not settle it.
 * Method: place and length of the ellipse hardly depend on the cup, so they are taken from the last cup, shape and
 * inclination from the reading; `cupsFromProjectedRim` gives the next cup. Stops when its own image reads as the film.
 * Source: ours.
 * Checked: against three recorded readings of a simulation and by round trip to 1e-6 degrees in
 * tests/biomechanics/orientation/cup-from-projected-rim.test.ts.
 * Limits: the uncorrected reading is off by -3.9 degrees of anteversion for 40/15 at 90 mm beside the beam, see
 * `projectedRim`; 10 mm of error in that offset leaves about 0.4 degrees. Corrects for the beam alone, not for tilt or
 * rotation of the pelvis. Below a reading of about 1 degree `facing` can hardly be known.
 *
 * @example
 * cupFromProjectedRim({
 *   reading: { inclination: degrees(40.9), anteversionSize: degrees(11.07) },
 *   exposure: {
 *     sourceDetectorDistance: millimetres(1000),
 *     hipHeight: millimetres(150),
 *     lateralOffset: millimetres(90),
 *     cranialOffset: millimetres(0),
 *   },
 *   rimRadius: millimetres(25),
 *   facing: 'source',
 * })
 * //=> inclination 40.00, anteversion 15.00 (degrees, rounded)
 */
export function cupFromProjectedRim(taken: OffCenterReading): CupOrientation<'radiographic'> {
  const { reading, exposure, rimRadius, facing } = taken;
  const ratio = sinDeg(reading.anteversionSize);
  let cup: CupOrientation<'radiographic'> = {
    definition: 'radiographic',
    inclination: reading.inclination,
    anteversion: reading.anteversionSize,
  };
  for (let step = 0; step < STEPS; step += 1) {
    const image = projectedRim(cup, exposure, rimRadius);
    if (isSettled(image, reading.inclination, ratio)) return cup;
    const minorAxis = millimetres(image.majorAxis * ratio);
    const wanted = { ...image, minorAxis, inclination: reading.inclination };
    const next = cupsFromProjectedRim(wanted, exposure.sourceDetectorDistance)[facing];
    if (!next) throw new RangeError(`a cup that reads so and faces the ${facing} would open medially`);
    cup = next;
  }
  throw new RangeError(
    `no cup found in ${STEPS} steps for a reading of ${reading.inclination}/${reading.anteversionSize}`,
  );
}

function isSettled(image: ProjectedRim, inclination: Degrees, ratio: number): boolean {
  return (
    Math.abs(image.inclination - inclination) <= SETTLED &&
    Math.abs(image.minorAxis / image.majorAxis - ratio) <= SETTLED
  );
}
