import { readFileSync } from 'node:fs';
import { z } from 'zod';
import { degrees } from '../../src/base/units.js';
import type { Placement } from '../../src/biomechanics/placement/placement-tolerance.js';
import type { NamedPose } from '../../src/biomechanics/motion/pose.js';
import { oscillation } from './oscillation.js';

export const NECK = 12;

const PARAMETERS = z.object({
  parameters: z.array(z.object({ id: z.string(), value: z.unknown() })),
});
const POSES = z.array(
  z.object({ name: z.string(), flexion: z.number(), abduction: z.number(), externalRotation: z.number() }),
);

/** The four poses of the rulebook's motion set. */
export function fourPoses(): readonly NamedPose[] {
  const file = new URL('../../rules/computations/motion-sets.json', import.meta.url);
  const { parameters } = PARAMETERS.parse(JSON.parse(readFileSync(file, 'utf8')));
  const found = parameters.find(({ id }) => id === 'motion-set-four-pose-v1');
  return POSES.parse(found?.value).map((pose) => ({
    name: pose.name,
    flexion: degrees(pose.flexion),
    abduction: degrees(pose.abduction),
    externalRotation: degrees(pose.externalRotation),
  }));
}

export function placement(inclination: number, anteversion: number, stemAnteversion: number): Placement {
  return {
    inclination: degrees(inclination),
    anteversion: degrees(anteversion),
    stemAnteversion: degrees(stemAnteversion),
  };
}

/** Freehand scatter: the parameters placement-scatter-cup-inclination, -cup-anteversion and -stem-anteversion. */
const FREEHAND = placement(6.7, 8.1, 7.4);

/** A textbook plan placed freehand, with a 28 mm head. */
export const PLANNED = {
  plan: placement(40, 20, 15),
  scatter: FREEHAND,
  seed: 1,
  neckShaftAngle: degrees(135),
  oscillationAngle: oscillation(28, NECK),
  poses: fourPoses(),
};
