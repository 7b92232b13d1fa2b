import { degrees, type Degrees } from '../../base/units.js';
import type { Pose } from './pose.js';

/** Postures whose pelvic tilt is measured apart. Relaxed sitting and bending forward on the seat are two of them. */
export type Posture = 'supine' | 'standing' | 'relaxed-seated' | 'flexed-seated';

/** What is known of how one pelvis tilts; tilt of the anterior pelvic plane, anterior positive. */
export interface KnownTilts {
  readonly measured: Readonly<Partial<Record<Posture, Degrees>>>;
  /** True only for a spine known to be stiff; an unexamined one is false and lets nothing be inferred. */
  readonly stiffSpine: boolean;
}

/** The tilt of the pelvis in a task, or which measurement would tell it. */
export type TiltInTask =
  { readonly kind: 'known'; readonly tilt: Degrees; readonly from: 'measured' | 'stiff-spine' } | UnknownTilt;

export interface UnknownTilt {
  readonly kind: 'unknown';
  readonly posture: Posture;
  /** Postures whose tilt is missing; any one of them settles it. */
  readonly missing: readonly Posture[];
}

/**
 * The tilt of the pelvis in the posture of a task.
 *
 * Frame: sagittal plane; tilt of the anterior pelvic plane against the vertical, anterior positive.
 * Units: degrees in, degrees out.
 * Domain: finite angles. No tilt is ever taken by default: what isn't known is said to be missing.
 * Method: the tilt measured in that posture; else, seated relaxed with a spine known to be stiff, the standing tilt,
 * which such a spine keeps; else unknown. Bending forward on the seat turns even a stiff trunk, and the pelvis with it,
 * so there the standing tilt tells nothing.
 * Source: ours; that a stiff spine keeps its standing tilt on sitting down is common practice, no source.
 * Checked: every case in tests/biomechanics/motion/posture-demand.test.ts.
 * Limits: a stiff spine in published groups still moves a few degrees; a measured seated tilt always wins.
 *
 * @example
 * tiltInTask('relaxed-seated', { measured: { standing: degrees(5) }, stiffSpine: true })
 * //=> kind 'known', tilt 5 (degrees), from 'stiff-spine'
 */
export function tiltInTask(posture: Posture, { measured, stiffSpine }: KnownTilts): TiltInTask {
  const own = measured[posture];
  if (own !== undefined) return { kind: 'known', tilt: own, from: 'measured' };
  if (!(stiffSpine && posture === 'relaxed-seated')) return { kind: 'unknown', posture, missing: [posture] };
  const { standing } = measured;
  return standing === undefined
    ? { kind: 'unknown', posture, missing: [posture, 'standing'] }
    : { kind: 'known', tilt: standing, from: 'stiff-spine' };
}

/**
 * A pose of the thigh against the ground, as a pose against the pelvis.
 *
 * Frame: in, X forward, Y up, Z lateral; out, the pelvis frame, turned about Z against it by the tilt.
 * Units: degrees in, degrees out; tilt anterior positive.
 * Domain: finite angles. The pose must be in the project's order of rotations.
 * Method: Rz(T) takes ground into pelvis, and Rz(T) Rz(flexion) = Rz(flexion + T): hip flexion = ground flexion +
 * anterior tilt; abduction and rotation stay.
 * Source: ours; geometry of a turn about the transverse axis.
 * Checked: by turning thigh and pelvis apart, by two worked poses, and beside published means in
 * tests/biomechanics/motion/posture-demand.test.ts.
 * Limits: tilt only; no obliquity or turn of the pelvis.
 *
 * @example
 * pelvisRelativePose({ flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(0) }, degrees(-20))
 * //=> flexion 70, abduction 0, externalRotation 0 (degrees): seated, the pelvis rolled back
 */
export function pelvisRelativePose({ flexion, abduction, externalRotation }: Pose, tilt: Degrees): Pose {
  return { flexion: degrees(flexion + tilt), abduction, externalRotation };
}

/** A task as the thigh stands against the ground. */
export interface GroundTask extends Pose {
  readonly posture: Posture;
}

/** What a task asks of the hip, or why that cannot be said. */
export type PostureDemand =
  { readonly kind: 'pose'; readonly pose: Pose; readonly tiltFrom: 'measured' | 'stiff-spine' } | UnknownTilt;

/**
 * What a task stated against the ground asks of one person's hip.
 *
 * Frame: ground in, pelvis out; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out; tilt anterior positive.
 * Domain: finite angles. Unknown, naming the missing tilt, when the tilt in that posture isn't known.
 * Method: `tiltInTask`, then `pelvisRelativePose`.
 * Source: ours, as those two.
 * Checked: worked seats in tests/biomechanics/motion/posture-demand.test.ts.
 * Limits: as those two.
 *
 * @example
 * postureDemand(
 *   { posture: 'relaxed-seated', flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(0) },
 *   { measured: { standing: degrees(0) }, stiffSpine: true },
 * )
 * //=> kind 'pose', flexion 90 (degrees), tiltFrom 'stiff-spine'; a pelvis measured at -20 seated flexes 70
 */
export function postureDemand(task: GroundTask, known: KnownTilts): PostureDemand {
  const found = tiltInTask(task.posture, known);
  if (found.kind === 'unknown') return found;
  return { kind: 'pose', pose: pelvisRelativePose(task, found.tilt), tiltFrom: found.from };
}
