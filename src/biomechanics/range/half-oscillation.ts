import { degrees, type Degrees } from '../../base/units.js';
import { clearance, firstTouch, type Lean } from './first-touch.js';
import type { Liner } from './liner.js';
import { neckSections, type Neck } from './neck.js';
import { rimContact, type RimContact } from './rim-contact.js';

const RADIANS = Math.PI / 180;

/** A liner and the neck that moves in it, made ready once for many poses. */
export interface NeckInLiner {
  readonly liner: Liner;
  readonly neck: Neck;
  /** Edges that can touch; the inside of `halfOscillation`. */
  readonly contact: RimContact;
  /** Half the oscillation angle where it is the same all round, for a round neck and a rim without elevation. */
  readonly evenHalf: Degrees | undefined;
  /** No azimuth has less than this. */
  readonly leastHalf: Degrees;
}

/**
 * Makes a liner and a neck ready for `halfOscillation`.
 *
 * Frame: none; both solids about the head center.
 * Units: millimetres and degrees.
 * Domain: as `rimSection` and `neckSections` say; RangeError outside.
 * Method: finds where vertices of the rim meet the neck and corners of the neck the rim, once.
 * Source: ours.
 * Checked: see `halfOscillation`.
 * Limits: see `halfOscillation`.
 *
 * @example
 * neckInLiner(liner, { diameter: millimetres(12) }).evenHalf
 * //=> 64.62 (degrees, rounded), for a flat rim about a 28 mm head
 */
export function neckInLiner(liner: Liner, neck: Neck): NeckInLiner {
  const contact = rimContact(liner, neckSections(neck, liner.bore));
  const isEven = contact.elevation.length === 0 && !contact.isFlattened;
  const straight = { azimuth: 0, sineOfRoll: 0, cosineOfRoll: 1 };
  return {
    liner,
    neck,
    contact,
    evenHalf: isEven ? degrees(firstTouch(contact, straight) / RADIANS) : undefined,
    leastHalf: degrees(Math.max(0, leastTouch(contact)) / RADIANS),
  };
}

/** The edge nearest to the opening axis, straight ahead; flats and ends only leave more. */
function leastTouch({ round, elevation }: RimContact): number {
  const levels = elevation.flatMap((piece) => (piece.kind === 'level' ? [piece.meeting] : []));
  return Math.min(...[...round, ...levels].map(({ polar, cap }) => polar - cap));
}

/** Where the neck leans, and how it is turned about its own axis. */
export interface NeckLean {
  /** Rim azimuth it leans toward. */
  readonly azimuth: Degrees;
  /** Turn of the normal of the flats about the neck, away from the rim's tangent there; without meaning for a round neck. */
  readonly roll: Degrees;
}

/**
 * Half oscillation angle: how far the neck axis can lean from the opening axis toward an azimuth before neck and rim touch.
 *
 * Frame: the liner's; azimuth 0 cranial, 90 anterior, 180 caudal, 270 posterior.
 * Units: degrees in, degrees out, in [0, 180].
 * Domain: finite angles. A rim that touches a neck already in line with the opening axis gives 0.
 * Method: points turn about one center and keep their distance from it, so contact is settled on spheres, at the
 * distances of the edges of both solids. Flat rims, chamfers, insets, steps of the neck, flattened necks and elevations
 * without ramps in closed form; elevations with ramps, and elevations under a flattened neck, by a bounded search along
 * each edge (scan and golden section, to 1e-9 rad).
 * Source: ours; for a round neck and a flat rim it is the closed form of `oscillationAngle`.
 * Checked: that closed form, and derived tables, in tests/biomechanics/range/half-oscillation.test.ts; meshes of the same
 * solids, 200 random designs, in tests/biomechanics/mesh-contact.test.ts.
 * Limits: rigid bodies; rim and neck only, no bone, no soft tissue.
 *
 * @example
 * halfOscillation(neckInLiner(liner, { diameter: millimetres(12) }), { azimuth: degrees(90), roll: degrees(0) })
 * //=> 64.62 (degrees, rounded), for a flat rim about a 28 mm head
 */
export function halfOscillation(joint: NeckInLiner, { azimuth, roll }: NeckLean): Degrees {
  if (joint.evenHalf !== undefined) return joint.evenHalf;
  return halfToward(joint, {
    azimuth: azimuth * RADIANS,
    sineOfRoll: Math.sin(roll * RADIANS),
    cosineOfRoll: Math.cos(roll * RADIANS),
  });
}

/**
 * How far a lean of the neck is from contact straight toward or away from the opening axis, in degrees; negative in contact.
 * Like `halfOscillation` less the lean's angle, but 0 or less only where neck and rim really touch: beside the end of a lip
 * a neck may have passed it.
 */
export function leanClearance({ contact, evenHalf }: NeckInLiner, lean: Lean, angle: Degrees): Degrees {
  if (evenHalf !== undefined) return degrees(evenHalf - angle);
  return degrees(Math.min(180, clearance(contact, lean, angle * RADIANS) / RADIANS));
}

/** `halfOscillation` where the lean is at hand as sines and cosines. */
export function halfToward({ contact }: NeckInLiner, lean: Lean): Degrees {
  return degrees(Math.min(180, firstTouch(contact, lean) / RADIANS));
}
