import { degrees, millimetres, type Degrees } from '../../base/units.js';
import { oscillationAngle, type HeadNeckGeometry } from '../range/head-neck.js';
import { cosDeg } from '../trigonometry.js';
import { assertSunken, type SunkenHead } from './wear-volume.js';

/** The unworn head and neck, and how far and in which direction the head has sunk. */
export interface WornArticulation extends HeadNeckGeometry, SunkenHead {}

/**
 * How much of the oscillation angle is lost because the head has sunk into its liner.
 *
 * Frame: none; symmetric about the cup axis.
 * Units: millimetres and degrees in, degrees out.
 * Domain: as `oscillationAngle`, before and after; penetration not negative, angle to the cup axis in [0, 90]; RangeError
 * outside.
 * Method: oscillation angle of the unworn head minus that of one whose center lies w cos b further in; w penetration, b angle.
 * Source: ours; wear along the cup axis taken as an inset of the center.
 * Checked: a derived table, from memory, and its properties in tests/biomechanics/wear/arc-lost-to-wear.test.ts.
 * Limits: only the part of the penetration along the cup axis counts; what the sideways part does to the arc in its own
 * direction is left out. The bore is taken as going on straight above the sunken center. Says nothing about jump distance,
 * which a worn cavity does not have.
 *
 * @example
 * arcLostToWear({
 *   head: millimetres(28), neck: millimetres(12), centerOffset: millimetres(0),
 *   penetration: millimetres(2), angleToCupAxis: degrees(0),
 * })
 * //=> 15.71 (degrees, rounded)
 */
export function arcLostToWear(worn: WornArticulation): Degrees {
  assertSunken(worn);
  const sunk = worn.penetration * cosDeg(worn.angleToCupAxis);
  const before = oscillationAngle(worn);
  const after = oscillationAngle({ ...worn, centerOffset: millimetres(worn.centerOffset - sunk) });
  return degrees(before - after);
}
