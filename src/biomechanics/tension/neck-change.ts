import { degrees, millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { neckAxis, type StemOrientation } from '../motion/pose.js';
import { sinDeg } from '../trigonometry.js';
import { pelvisVector, type Vec3 } from '../vector.js';

/** What a plan changes at the neck. The neck reaches from the head center to the axis of the shaft. */
export interface NeckChange {
  /** Stem version and neck-shaft angle the plan starts from. */
  readonly before: StemOrientation;
  /** Neck length the plan starts from. Needed only where an angle changes: a longer neck then moves the femur further. */
  readonly lengthBefore?: Millimetres;
  /** Along the neck; longer positive. */
  readonly lengthChange: Millimetres;
  readonly neckShaftAngleChange: Degrees;
  readonly stemVersionChange: Degrees;
}

/** One state of the neck. */
interface Neck extends StemOrientation {
  readonly length: number;
}

/** How the femur moves because of the neck, by each of its three changes. */
export interface NeckDisplacement {
  readonly neckLength: Vec3<'pelvis'>;
  readonly neckShaftAngle: Vec3<'pelvis'>;
  readonly stemVersion: Vec3<'pelvis'>;
}

/** Without a length to start from, only its change counts: the rest of the neck then moves nothing. */
function startOf({ before, lengthBefore, lengthChange, ...change }: NeckChange): Neck {
  if (lengthBefore === undefined) {
    if (change.neckShaftAngleChange === 0 && change.stemVersionChange === 0) return { ...before, length: 0 };
    throw new RangeError('a change of neck-shaft angle or stem version needs the neck length it starts from');
  }
  if (!(lengthBefore > 0 && lengthBefore + lengthChange > 0)) {
    throw new RangeError(
      `neck length must stay positive, got ${lengthBefore} mm changed by ${lengthChange} mm`,
    );
  }
  return { ...before, length: lengthBefore };
}

/** The neck as a vector from the head center to the axis of the shaft, femur in neutral position. */
function neckVector({ length, ...orientation }: Neck): Vec3<'pelvis'> {
  const [x, y, z] = neckAxis(orientation);
  return pelvisVector(length * x, length * y, length * z);
}

function moved(from: Neck, to: Neck): Vec3<'pelvis'> {
  const [start, end] = [neckVector(from), neckVector(to)];
  return pelvisVector(end[0] - start[0], end[1] - start[1], end[2] - start[2]);
}

/**
 * How the femur moves against the pelvis because the neck changes, split by length, neck-shaft angle and version.
 *
 * Frame: pelvis, femur in neutral position; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: millimetres and degrees in; vectors in millimetres out.
 * Domain: stem version in (-90, 90) and neck-shaft angle in (90, 180), both before and after; neck length positive before
 * and after; RangeError outside, and where an angle changes without a length to start from.
 * Method: with the head center in the socket, the point of the shaft where the neck meets it lies at length x neck axis.
 * The changes are applied in the order length, neck-shaft angle, version, and each part is what the femur moves in its
 * turn; the parts add up to the whole in any order, but another order would split it otherwise.
 * Source: ours; the geometry of the neck.
 * Checked: worked examples, measured necks and the whole against its parts in tests/biomechanics/tension/tension.test.ts.
 * Limits: the angles turn about the point where the neck meets the shaft, and the femur itself does not turn.
 *
 * @example
 * neckDisplacement({
 *   before: { anteversion: degrees(15), neckShaftAngle: degrees(135) },
 *   lengthChange: millimetres(4), neckShaftAngleChange: degrees(0), stemVersionChange: degrees(0),
 * }).neckLength
 * //=> [-0.73, -2.83, 2.73] (mm, rounded): backward with an anteverted neck, distal, lateral
 */
export function neckDisplacement(change: NeckChange): NeckDisplacement {
  const start = startOf(change);
  const lengthened = { ...start, length: start.length + change.lengthChange };
  const angled = {
    ...lengthened,
    neckShaftAngle: degrees(start.neckShaftAngle + change.neckShaftAngleChange),
  };
  const turned = { ...angled, anteversion: degrees(start.anteversion + change.stemVersionChange) };
  return {
    neckLength: moved(start, lengthened),
    neckShaftAngle: moved(lengthened, angled),
    stemVersion: moved(angled, turned),
  };
}

/**
 * Change of femoral offset, measured in the plane of the neck.
 *
 * Frame: plane through neck and shaft; distance of the head center from the axis of the shaft, more offset positive.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: as `neckDisplacement`.
 * Method: offset = length x sin(neck-shaft angle); after minus before. Version turns the plane and changes nothing in it.
 * Source: ours; plane trigonometry.
 * Checked: derived tables and measured necks in tests/biomechanics/tension/tension.test.ts.
 * Limits: a film shows less, by the cosine of the angle between the plane of the neck and the film: see `filmOffset`.
 *
 * @example
 * femoralOffsetChangeFromComponents({
 *   before: { anteversion: degrees(15), neckShaftAngle: degrees(135) },
 *   lengthChange: millimetres(4), neckShaftAngleChange: degrees(0), stemVersionChange: degrees(0),
 * })
 * //=> 2.83 (mm, rounded)
 */
export function femoralOffsetChangeFromComponents(change: NeckChange): Millimetres {
  const { length, neckShaftAngle, anteversion } = startOf(change);
  // The same refusal of impossible angles as for the displacement.
  neckAxis({
    neckShaftAngle: degrees(neckShaftAngle + change.neckShaftAngleChange),
    anteversion: degrees(anteversion + change.stemVersionChange),
  });
  const after = (length + change.lengthChange) * sinDeg(neckShaftAngle + change.neckShaftAngleChange);
  return millimetres(after - length * sinDeg(neckShaftAngle));
}
