import { degrees } from '../../src/base/units.js';
import { pelvisRelativePose } from '../../src/biomechanics/motion/posture-demand.js';

/** Hip flexion of a thigh level with the ground, for a pelvis tilted forward by an angle. */
export function levelThighFlexion(anteriorTilt: number): number {
  const level = { flexion: degrees(90), abduction: degrees(0), externalRotation: degrees(0) };
  return pelvisRelativePose(level, degrees(anteriorTilt)).flexion;
}

/** The posterior tilt that a record states in words. */
export function posteriorTiltIn(notes: string | null | undefined): number {
  return Number(/[Tt]ilt(?: at maximum flexion)? (\d+\.\d) posterior/.exec(notes ?? '')?.[1]);
}
