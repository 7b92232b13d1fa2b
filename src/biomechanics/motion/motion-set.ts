import type { Posture } from './posture-demand.js';
import type { StatedPose } from './rotation-order.js';

/** A range a paper asks for, or motion that was measured. */
export type MotionSetKind = 'requirement' | 'activity';

/** Where the head would leave the socket if the motion went too far. */
export type DirectionOfRisk = 'anterior' | 'posterior' | 'superior' | 'other';

/** The angles of a pose, each of which a source may leave open. */
export const POSE_ANGLES = ['flexion', 'abduction', 'externalRotation'] as const;

export type PoseAngle = (typeof POSE_ANGLES)[number];

/** One motion as its source states it, in degrees with the signs of `Pose`; null where the source says nothing. */
export type Motion = Readonly<Record<PoseAngle, number | null>> &
  Pick<StatedPose, 'order' | 'axes'> & {
    readonly name: string;
    readonly directionOfRisk: DirectionOfRisk;
  } & (
    | { readonly relativeTo: 'pelvis'; readonly posture?: Posture }
    /** Thigh against the ground: what the hip does then depends on the pelvis in that posture. */
    | { readonly relativeTo: 'ground'; readonly posture: Posture }
  );

/** Motions as cited data; plain JSON, so that it can stand in the rulebook. */
export interface MotionSet {
  readonly kind: MotionSetKind;
  readonly name: string;
  /** Id of the citation the motions were read in. */
  readonly source: string;
  readonly motions: readonly Motion[];
}
