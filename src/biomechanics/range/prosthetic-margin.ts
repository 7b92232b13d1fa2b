import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import { cupAxis, type CupOrientation } from '../orientation/cup-orientation.js';
import type { Lean } from './first-touch.js';
import { halfToward, leanClearance, neckInLiner, type NeckInLiner } from './half-oscillation.js';
import type { ImpingementMargin, WorstImpingementMargin } from './impingement-margin.js';
import { openingAxis, rimDirection, type Liner } from './liner.js';
import type { Neck } from './neck.js';
import { neckAxis, poseInPelvis, type NamedPose, type Pose, type StemOrientation } from '../motion/pose.js';
import { atan2Deg, cosDeg, sinDeg } from '../trigonometry.js';
import { dot, femurVector, type Vec3 } from '../vector.js';

/** A replaced hip as neck and rim see it. */
export interface ReplacedHip {
  readonly cup: CupOrientation<'radiographic'>;
  readonly liner: Liner;
  readonly stem: StemOrientation;
  readonly neck: Neck;
}

/** A replaced hip made ready for many poses. */
export interface ReadyHip {
  readonly joint: NeckInLiner;
  readonly opening: Opening;
  readonly neckAxis: Vec3<'femur'>;
  /** Normal of the neck's flats: across the plane of neck and shaft, forward. */
  readonly flatNormal: Vec3<'femur'>;
}

/**
 * Makes a replaced hip ready for `prostheticMargin`.
 *
 * Frame: pelvis and femur; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees and millimetres.
 * Domain: as `cupAxis`, `neckAxis`, `rimSection` and `neckSections` say; RangeError outside.
 * Method: axes from angles; the liner's opening turned by its face; edges of rim and neck found once.
 * Source: ours.
 * Checked: see `prostheticMargin`.
 * Limits: see `prostheticMargin`.
 *
 * @example
 * readyHip({ cup, liner, stem, neck }).opening.axis
 * //=> the cup axis, for a liner whose face is not turned
 */
export function readyHip({ cup, liner, stem, neck }: ReplacedHip): ReadyHip {
  return {
    joint: neckInLiner(liner, neck),
    opening: openingOf(cup, liner),
    neckAxis: neckAxis(stem),
    flatNormal: flatNormalOf(stem),
  };
}

/** Normal of the flats of a flattened neck: across the plane of neck and shaft, forward. */
export function flatNormalOf({ anteversion }: StemOrientation): Vec3<'femur'> {
  return femurVector(cosDeg(anteversion), 0, sinDeg(anteversion));
}

/**
 * Prosthetic margin of a pose, for any liner and neck: the angle left before the neck touches the rim it leans toward.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out; negative beyond contact.
 * Domain: openings that face laterally (z > 0); RangeError otherwise.
 * Method: half oscillation angle at the azimuth the posed neck leans toward, with the neck turned about its own axis as
 * posed, minus the angle between opening axis and posed neck axis. Beside an elevation the neck may be nearer to it
 * sideways than straight ahead; the margin is told straight ahead.
 * Source: ours; oscillation-2001 uses the same model of contact (abstract read).
 * Checked: equal to `impingementMargin` for flat rims, in tests/biomechanics/range/prosthetic-margin.test.ts; meshes of the
 * same solids in tests/biomechanics/mesh-contact.test.ts.
 * Limits: neck and rim only; no bone, no soft tissue. Contact is not dislocation.
 *
 * @example
 * prostheticMargin(readyHip({ cup, liner, stem, neck }), pose)
 * //=> margin -7.82, axisAngle 72.45, contactAzimuth 25.94 (degrees, rounded), for 40/15, stem 15, 28 mm head, 12 mm
 * neck, 90 degrees of flexion and 45 of internal rotation
 */
export function prostheticMargin(hip: ReadyHip, pose: Pose): ImpingementMargin {
  return posedMargin(hip, posedNeck(hip, pose));
}

/** Neck axis and normal of its flats in a pose, seen from the pelvis. */
export interface PosedNeck {
  readonly axis: Vec3<'pelvis'>;
  readonly flatNormal: Vec3<'pelvis'>;
}

/** Where a pose takes the neck; the same for every cup. */
export function posedNeck(hip: Pick<ReadyHip, 'neckAxis' | 'flatNormal'>, pose: Pose): PosedNeck {
  return { axis: poseInPelvis(pose, hip.neckAxis), flatNormal: poseInPelvis(pose, hip.flatNormal) };
}

/** A liner's opening as a frame: its axis, and the rim directions of azimuth 0 and 90. */
export interface Opening {
  readonly axis: Vec3<'pelvis'>;
  readonly cranial: Vec3<'pelvis'>;
  readonly anterior: Vec3<'pelvis'>;
}

/** Where a liner opens to in a cup. */
function openingOf(cup: CupOrientation<'radiographic'>, { faceTurn }: Liner): Opening {
  return openingFrame(openingAxis(cupAxis(cup), faceTurn));
}

/** The frame of an opening about its axis. */
export function openingFrame(axis: Vec3<'pelvis'>): Opening {
  return { axis, cranial: rimDirection(axis, degrees(0)), anterior: rimDirection(axis, degrees(90)) };
}

/** Below this sine the neck is in line with the opening and leans toward no azimuth. */
const NO_LEAN = 1e-9;

/** `prostheticMargin` for a neck that is posed already. */
export function posedMargin(
  { joint, opening }: Pick<ReadyHip, 'joint' | 'opening'>,
  neck: PosedNeck,
): ImpingementMargin {
  const leaning = leaningOf(opening, neck);
  const { out, cranial, anterior, aside } = leaning;
  const axisAngle = atan2Deg(aside, out);
  if (joint.evenHalf !== undefined) {
    return {
      margin: degrees(joint.evenHalf - axisAngle),
      axisAngle,
      contactAzimuth: azimuthOf(anterior, cranial, aside),
    };
  }
  const lean = leanOf(leaning, opening, neck.flatNormal);
  return {
    margin: degrees(halfToward(joint, lean) - axisAngle),
    axisAngle,
    contactAzimuth: azimuthOf(anterior, cranial, aside),
  };
}

/** How far a posed neck is from contact, straight toward or away from the opening axis: see `leanClearance`. */
export function posedClearance(
  { joint, opening }: Pick<ReadyHip, 'joint' | 'opening'>,
  neck: PosedNeck,
): Degrees {
  const leaning = leaningOf(opening, neck);
  return leanClearance(
    joint,
    leanOf(leaning, opening, neck.flatNormal),
    atan2Deg(leaning.aside, leaning.out),
  );
}

function leaningOf(opening: Opening, { axis }: PosedNeck): Leaning {
  const cranial = dot(axis, opening.cranial);
  const anterior = dot(axis, opening.anterior);
  return {
    out: dot(axis, opening.axis),
    cranial,
    anterior,
    aside: Math.sqrt(cranial * cranial + anterior * anterior),
  };
}

function azimuthOf(anterior: number, cranial: number, aside: number): Degrees | undefined {
  if (aside < NO_LEAN) return undefined;
  const azimuth = atan2Deg(anterior, cranial);
  return azimuth < 0 ? degrees((azimuth + 360) % 360) : azimuth;
}

/** Components of the posed neck in the frame of the opening. */
interface Leaning {
  readonly out: number;
  readonly cranial: number;
  readonly anterior: number;
  readonly aside: number;
}

/**
 * The neck's azimuth, and its turn about itself: with the rim direction r it leans toward, t along the rim in which azimuth
 * grows, and m = cos r - sin a the way it leans, sine and cosine of the roll are the flats' normal along m and t.
 */
function leanOf({ out, cranial, anterior, aside }: Leaning, opening: Opening, normal: Vec3<'pelvis'>): Lean {
  if (aside < NO_LEAN) return { azimuth: 0, sineOfRoll: 0, cosineOfRoll: 1 };
  const [toward, along] = [cranial / aside, anterior / aside];
  const [up, front] = [dot(normal, opening.cranial), dot(normal, opening.anterior)];
  return {
    azimuth: Math.atan2(anterior, cranial),
    sineOfRoll: out * (toward * up + along * front) - aside * dot(normal, opening.axis),
    cosineOfRoll: toward * front - along * up,
  };
}

/**
 * The worst prosthetic margin over a set of named poses, for any liner and neck.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: as `prostheticMargin`, and at least one pose; RangeError outside.
 * Method: the least margin, compared as reported (1e-6 degrees); the earlier pose wins a tie.
 * Source: ours; the set of poses carries its own source.
 * Checked: tests/biomechanics/range/prosthetic-margin.test.ts.
 * Limits: as `prostheticMargin`; says nothing about poses that are not in the set.
 *
 * @example
 * worstProstheticMargin(readyHip({ cup, liner, stem, neck }), poses).motion
 * //=> 'internal rotation at 90'
 */
export function worstProstheticMargin(hip: ReadyHip, poses: readonly NamedPose[]): WorstImpingementMargin {
  let worst: WorstImpingementMargin | undefined;
  for (const pose of poses) {
    const found = { motion: pose.name, ...prostheticMargin(hip, pose) };
    if (worst === undefined || roundForUnit(found.margin, 'deg') < roundForUnit(worst.margin, 'deg')) {
      worst = found;
    }
  }
  if (worst === undefined) throw new RangeError('the worst margin needs at least one pose');
  return worst;
}
