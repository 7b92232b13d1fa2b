import { degrees, millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { halfOscillation, neckInLiner, type NeckInLiner } from './half-oscillation.js';
import type { Liner } from './liner.js';
import type { Neck } from './neck.js';

/** A bearing with two articulations: the head in a mobile liner that holds it, and the mobile liner in the cup. */
export interface DualMobility {
  /** The inner head. */
  readonly head: Millimetres;
  /** Opening of the mobile liner seen from the center; below 180, as it holds the head. */
  readonly mobileOpening: Degrees;
  /** Thickness of the mobile liner at its rim. */
  readonly mobileWall: Millimetres;
  /** The cup; its bore is the outer diameter of the mobile liner. */
  readonly cup: Liner;
  readonly neck: Neck;
}

/** Range of both articulations. */
export interface DualMobilityRange {
  /** How far the neck leans in the mobile liner before it begins to push it along: the small articulation. */
  readonly inner: Degrees;
  /** Neck against the rim of the cup: where the mobile liner can follow no further. Ready for many poses. */
  readonly outer: NeckInLiner;
}

/**
 * The two articulations of a dual mobility bearing.
 *
 * Frame: none; everything about the one center of both articulations.
 * Units: millimetres and degrees in, degrees out.
 * Domain: as `rimSection` and `neckSections` for both articulations; the head smaller than the mobile liner, whose opening
 * is below 180 degrees; RangeError outside.
 * Method: the neck first turns in the mobile liner, up to half its opening less the neck's half-angle at its rim. Then it
 * takes the mobile liner along: that slides in the cup between head and cup and never comes between neck and cup, so the
 * whole range ends where the neck meets the rim of the cup, at the mobile liner's radius.
 * Source: ours.
 * Checked: closed forms in tests/biomechanics/range/dual-mobility.test.ts; the outer articulation against meshes in
 * tests/biomechanics/mesh-contact.test.ts.
 * Limits: both articulations concentric; says nothing about which one moves first in a patient, nor about wear or scar that
 * stops the outer one. A mobile liner that no longer turns leaves the inner range alone.
 *
 * @example
 * dualMobilityRange({ head: millimetres(28), mobileOpening: degrees(150), mobileWall: millimetres(6), cup: flatRimOf42, neck: round12 })
 * //=> inner 49.62, outer.evenHalf 73.40 (degrees, rounded)
 */
export function dualMobilityRange({
  head,
  mobileOpening,
  mobileWall,
  cup,
  neck,
}: DualMobility): DualMobilityRange {
  if (!(head < cup.bore)) {
    throw new RangeError(`the head must be smaller than the mobile liner ${cup.bore} mm, got ${head} mm`);
  }
  if (!(mobileOpening < 180)) {
    throw new RangeError(`a mobile liner holds the head: opening below 180 degrees, got ${mobileOpening}`);
  }
  const mobile: Liner = {
    bore: head,
    centerOffset: millimetres(0),
    wall: mobileWall,
    opening: mobileOpening,
  };
  // Symmetric about its own axis: flats give the most where they face the rim, and the least decides.
  const inner = halfOscillation(neckInLiner(mobile, neck), { azimuth: degrees(0), roll: degrees(0) });
  return { inner, outer: neckInLiner(cup, neck) };
}
