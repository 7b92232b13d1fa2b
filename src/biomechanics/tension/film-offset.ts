import { millimetres, type Degrees, type Millimetres } from '../../base/units.js';
import { cosDeg } from '../trigonometry.js';

/** A femoral offset, and how far its plane is turned out of the film. */
export interface OffsetOnFilm {
  /** Femoral offset in the plane of the neck. */
  readonly offset: Millimetres;
  /** Angle between the plane of the neck and the film, either way. */
  readonly rotation: Degrees;
}

/**
 * The femoral offset a film shows when the neck is turned out of its plane, as in external rotation.
 *
 * Frame: film; the plane of the neck turned against it about the shaft.
 * Units: millimetres and degrees in, millimetres out.
 * Domain: offset not negative, rotation in (-90, 90); RangeError outside.
 * Method: offset x cos(rotation).
 * Source: sariali-2014 for films that under-read by up to 20 % (abstract read); the projection is ours.
 * Checked: derived figures in tests/biomechanics/tension/tension.test.ts.
 * Limits: parallel projection without magnification, shaft parallel to the film. It never over-reads; a film may.
 *
 * @example
 * filmOffset({ offset: millimetres(45), rotation: degrees(20) })
 * //=> 42.29 (mm, rounded)
 */
export function filmOffset({ offset, rotation }: OffsetOnFilm): Millimetres {
  if (!(offset >= 0)) throw new RangeError(`femoral offset must not be negative, got ${offset} mm`);
  if (!(rotation > -90 && rotation < 90)) {
    throw new RangeError(`rotation out of the film must lie in (-90, 90) degrees, got ${rotation}`);
  }
  return millimetres(offset * cosDeg(rotation));
}
