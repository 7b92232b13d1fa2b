import { roundForUnit } from '../../base/rounding.js';
import { degrees, type Degrees } from '../../base/units.js';
import type { NamedPose } from '../motion/pose.js';
import { poseInPelvis } from '../motion/pose.js';
import { angleBetween, type Vec3 } from '../vector.js';
import { rimAzimuth } from './impingement-margin.js';
import { prostheticMargin, type ReadyHip } from './prosthetic-margin.js';

/** Where a hip's liner opens to and its neck points; that is all a rim without elevation and a round neck are asked for. */
export interface HipAxes {
  readonly opening: Vec3<'pelvis'>;
  readonly neckAxis: Vec3<'femur'>;
}

/** A plan beside the construct it is compared with: by their axes where neck and even rim are the same in both. */
export type Compared =
  | { readonly kind: 'same-even-rim'; readonly plan: HipAxes; readonly reference: HipAxes }
  | { readonly kind: 'any-rim'; readonly plan: ReadyHip; readonly reference: ReadyHip };

/** The motion in which a plan loses most against its reference. */
export interface MarginLoss {
  /** Margin of the reference less that of the plan; negative when the plan has more in every motion. */
  readonly loss: Degrees;
  readonly pose: NamedPose;
  /** Rim point the plan's neck leans toward in that motion; undefined when it points straight out of the opening. */
  readonly contactAzimuth: Degrees | undefined;
}

/**
 * Greatest loss of margin over a set of poses: how much sooner neck and rim of a plan meet than those of a reference in
 * the same motion.
 *
 * Frame: pelvis; X anterior, Y cranial, Z lateral (away from the midline on either side).
 * Units: degrees in, degrees out.
 * Domain: as `prostheticMargin`, and at least one pose; RangeError outside.
 * Method: margin of the reference - margin of the plan, in each pose; the greatest as reported (1e-6 degrees), the earlier
 * pose winning a tie. A rim without elevation and a round neck leave the same half oscillation angle all round: in two
 * hips that share them it cancels, and the loss is the difference of the angles between opening and neck. Head and neck
 * then need not be known.
 * Source: ours.
 * Checked: margins of whole hips, any head and neck, in tests/biomechanics/range/margin-loss.test.ts.
 * Limits: as `prostheticMargin`. A loss is against the reference and says nothing of what a patient needs.
 *
 * @example
 * // cup 40/5 against 40/20, stem 15 in both, neck-shaft angle 135, the four poses of oscillation-2001
 * marginLoss({ kind: 'same-even-rim', plan, reference }, poses)
 * //=> loss 11.08, pose 'flexion 110°', contactAzimuth 44.63 (degrees, rounded)
 */
export function marginLoss(compared: Compared, poses: readonly NamedPose[]): MarginLoss {
  let most: MarginLoss | undefined;
  for (const pose of poses) {
    const found = { pose, ...lossIn(compared, pose) };
    if (most === undefined || roundForUnit(found.loss, 'deg') > roundForUnit(most.loss, 'deg')) most = found;
  }
  if (most === undefined) throw new RangeError('a loss of margin needs at least one pose');
  return most;
}

function lossIn(compared: Compared, pose: NamedPose): Omit<MarginLoss, 'pose'> {
  if (compared.kind === 'any-rim') {
    const plan = prostheticMargin(compared.plan, pose);
    const { margin } = prostheticMargin(compared.reference, pose);
    return { loss: degrees(margin - plan.margin), contactAzimuth: plan.contactAzimuth };
  }
  const { plan, reference } = compared;
  const neck = poseInPelvis(pose, plan.neckAxis);
  return {
    loss: degrees(
      angleBetween(plan.opening, neck) -
        angleBetween(reference.opening, poseInPelvis(pose, reference.neckAxis)),
    ),
    contactAzimuth: rimAzimuth(plan.opening, neck),
  };
}
