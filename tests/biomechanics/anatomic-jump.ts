import { degrees, millimetres, type Millimetres } from '../../src/base/units.js';
import { anatomicToRadiographic } from '../../src/biomechanics/orientation/cup-orientation.js';
import { jumpDistance } from '../../src/biomechanics/stability/jump-distance.js';

/** Jump distance of plain numbers; the inclination is radiographic. */
export function jump(head: number, inclination: number, centerOffset = 0): Millimetres {
  return jumpDistance({
    head: millimetres(head),
    radiographicInclination: degrees(inclination),
    centerOffset: millimetres(centerOffset),
  });
}

/** Planar inclination of anatomic angles; abduction 0 is a cup that faces straight down whatever its anteversion. */
export function planarInclination(abduction: number, anteversion: number): number {
  if (abduction === 0) return 0;
  return anatomicToRadiographic({
    definition: 'anatomic',
    inclination: degrees(abduction),
    anteversion: degrees(anteversion),
  }).inclination;
}

/** Jump distance of a cup stated by anatomic angles, as the paper takes them. */
export function jumpAnatomic(
  head: number,
  abduction: number,
  anteversion: number,
  centerOffset = 0,
): Millimetres {
  return jump(head, planarInclination(abduction, anteversion), centerOffset);
}

/** Mean slopes of the jump distance of one head, over the spans the paper's figures are met on. */
export function jumpSensitivities(head: number): {
  readonly abduction: number;
  readonly anteversion: number;
  readonly diameterAt45: number;
  readonly diameterAt60: number;
  readonly offset: number;
} {
  return {
    abduction: (jumpAnatomic(head, 80, 0) - jumpAnatomic(head, 0, 0)) / 80,
    anteversion: (jumpAnatomic(head, 45, 40) - jumpAnatomic(head, 45, 0)) / 40,
    diameterAt45: jumpAnatomic(head + 1, 45, 0) - jumpAnatomic(head, 45, 0),
    diameterAt60: jumpAnatomic(head + 1, 60, 0) - jumpAnatomic(head, 60, 0),
    offset: jumpAnatomic(head, 45, 0, 1) - jumpAnatomic(head, 45, 0),
  };
}
