import { millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { rimAzimuth } from '../range/impingement-margin.js';
import { elevationShare, openingAxis, rimSection, type Liner } from '../range/liner.js';
import { asinDeg, sinDeg } from '../trigonometry.js';
import { angleBetween, cross, dot, normalise, pelvisVector, type Vec3 } from '../vector.js';

/** What a jump distance in a direction depends on. */
export interface DirectionalJump {
  readonly cupAxis: Vec3<'pelvis'>;
  readonly liner: Liner;
  /** Direction of the load the head carries into the cup. */
  readonly load: Vec3<'pelvis'>;
  /** Where the head would leave; only the part across the load counts. */
  readonly escape: Vec3<'pelvis'>;
  /** Total penetration of the head into the liner. */
  readonly penetration: Millimetres;
}

export type JumpDistanceOutcome =
  | {
      readonly kind: 'distance';
      readonly distance: Millimetres;
      /** The rim azimuth the head would leave over. */
      readonly azimuth: Degrees;
      /** Angle between load and rim, seen from the head center: what holds the head. */
      readonly cover: Degrees;
    }
  /** The rim of a worn cavity is not known: there is no distance to tell. */
  | { readonly kind: 'none'; readonly why: 'worn-cavity-undefined' };

/** Load straight up, as standing; the three ways out of clinical interest. */
export const UPWARD_LOAD = pelvisVector(0, 1, 0);
export const ESCAPES = {
  superior: pelvisVector(0, 0, 1),
  anterior: pelvisVector(1, 0, 0),
  posterior: pelvisVector(-1, 0, 0),
} as const;

/**
 * Jump distance in a direction: how far the head center must move before the head leaves an unworn liner over the rim
 * that lies that way.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: directions of any length and millimetres in; millimetres and degrees out.
 * Domain: liners as `rimSection` says, openings that face laterally (z > 0), load and escape not along one line,
 * penetration 0 or more; RangeError otherwise. A head that its rim no longer holds gives 0; a worn liner gives none.
 * Method: rim direction r in the opening plane and in the plane of load l and escape e, on e's side; 2 R sin((angle(l, r)
 * - asin(O/R) + elevation) / 2), R the radius of the bore, O the center outside the plane of the edge that holds the head:
 * the opening plane, or where a chamfer begins; an opening below 180 degrees adds half of what it lacks. Beyond 180 degrees
 * the head is out of any rim's reach and the distance is 2 R. With the load straight up: superior 90 - RI, anterior 90 - OA,
 * posterior 90 + OA.
 * Source: ours; for the superior direction it is the distance of sariali-2009 (abstract and captions read). No published
 * number was found for other directions.
 * Checked: the superior closed form, and 36 mm at 40/15, in tests/biomechanics/stability/directional-jump-distance.test.ts.
 * Limits: load and direction are assumptions to be shown beside the number. The rim is taken at the one azimuth; a lip
 * that ends nearby is not walked round. No soft tissue. Nothing improves with wear: a worn liner has no number.
 *
 * @example
 * directionalJumpDistance({ cupAxis, liner, load: UPWARD_LOAD, escape: ESCAPES.posterior, penetration: millimetres(0) })
 * //=> distance 29.36 mm (rounded), for a 36 mm head and a cup at 40/15
 */
export function directionalJumpDistance(jump: DirectionalJump): JumpDistanceOutcome {
  const { liner, penetration } = jump;
  if (!(penetration >= 0)) throw new RangeError(`penetration must be 0 mm or more, got ${penetration}`);
  if (penetration > 0) return { kind: 'none', why: 'worn-cavity-undefined' };
  rimSection(liner, liner.elevation ? 1 : 0);
  const opening = openingAxis(jump.cupAxis, liner.faceTurn);
  const rim = rimToward(opening, jump.load, jump.escape);
  const azimuth = rimAzimuth(opening, rim);
  if (azimuth === undefined) throw new TypeError('a rim point without azimuth');
  const cover = angleBetween(jump.load, rim);
  const radius = liner.bore / 2;
  const elevation = liner.elevation ? liner.elevation.angle * elevationShare(liner.elevation, azimuth) : 0;
  const outside = liner.centerOffset + (liner.chamfer && elevation === 0 ? liner.chamfer.depth : 0);
  const arc = cover - asinDeg(Math.min(1, outside / radius)) + (180 - liner.opening) / 2 + elevation;
  return {
    kind: 'distance',
    distance: millimetres(arc <= 0 ? 0 : 2 * radius * sinDeg(Math.min(180, arc) / 2)),
    azimuth,
    cover,
  };
}

/** The direction in the opening plane that lies in the plane of load and escape, on the escape's side. */
function rimToward(opening: Vec3<'pelvis'>, load: Vec3<'pelvis'>, escape: Vec3<'pelvis'>): Vec3<'pelvis'> {
  const normal = cross(normalise(load), normalise(escape));
  if (Math.hypot(...normal) < 1e-9) throw new RangeError('load and escape must not lie along one line');
  const rim = normalise(cross(opening, normal));
  const across = cross(normal, load);
  return dot(rim, across) >= 0 ? rim : pelvisVector(-rim[0], -rim[1], -rim[2]);
}
