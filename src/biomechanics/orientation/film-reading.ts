import { degrees, type Degrees, type Millimetres } from '../../base/units.js';
import { assertCupAngle, type CupOrientation } from './cup-orientation.js';
import { asinDeg, atan2Deg } from '../trigonometry.js';

/** Both axes of the ellipse that a cup's rim draws on a film, in any one scale. */
export interface RimEllipse {
  readonly minorAxis: Millimetres;
  readonly majorAxis: Millimetres;
}

/** How far a cup is turned, without the side it is turned to: an AP film looks the same for both. */
export interface AnteversionSize {
  /** In [0, 90]; never an anteversion by itself. */
  readonly anteversionSize: Degrees;
}

/** What an AP film shows of a cup. */
export interface FilmReading extends AnteversionSize {
  readonly inclination: Degrees;
}

/** A direction on an AP film; its length does not matter. */
export interface FilmDirection {
  /** Away from the midline, on the side of the hip that is read. */
  readonly lateral: Millimetres;
  readonly cranial: Millimetres;
}

/**
 * The size of a cup's radiographic anteversion, from the ellipse its rim draws on an AP film.
 *
 * Frame: film; X of the pelvis points at the source.
 * Units: two lengths of one scale in, so magnification cancels; degrees in [0, 90] out.
 * Domain: minor axis at least 0, major axis above 0 and not below the minor; RangeError outside.
 * Method: asin(minor / major). A circle with unit normal a, seen along X, has axes in the ratio |a.x| = |sin RA|.
 * Source: ours; the projection of a circle. murray-1993 for the definition of RA (abstract read).
 * Checked: four worked examples, and rims sampled in space, projected by three and fitted by least squares, in
 * tests/biomechanics/orientation/film-reading.test.ts.
 * Limits: the size, never the sign. Parallel beam: a beam centered beside the hip falsifies it by several degrees, see
 * `projectedRim`. In the frame of the film: pelvic tilt stays in the reading.
 *
 * @example
 * anteversionFromEllipse({ minorAxis: millimetres(12.94), majorAxis: millimetres(50) })
 * //=> anteversionSize 15.00 (degrees, rounded)
 */
export function anteversionFromEllipse({ minorAxis, majorAxis }: RimEllipse): AnteversionSize {
  if (!(majorAxis > 0)) throw new RangeError(`the major axis must be longer than 0 mm, got ${majorAxis}`);
  if (!(minorAxis >= 0 && minorAxis <= majorAxis)) {
    throw new RangeError(`the minor axis must lie in [0, ${majorAxis}] mm, got ${minorAxis}`);
  }
  return { anteversionSize: asinDeg(minorAxis / majorAxis) };
}

/**
 * Radiographic inclination: the angle of the rim ellipse's long axis against the transverse line of the pelvis.
 *
 * Frame: film; lateral is away from the midline on either side, cranial up.
 * Units: directions of any length in; degrees in [0, 180) out.
 * Domain: directions other than zero, the transverse line pointing laterally; RangeError otherwise. The long axis may
 * be given from either end.
 * Method: atan2(t x l, t . l) modulo 180, with t the transverse line and l the long axis.
 * Source: murray-1993 for the definition of RI (abstract read); the equation is ours.
 * Checked: closed forms, and rims sampled in space, projected by three and fitted by least squares, in
 * tests/biomechanics/orientation/film-reading.test.ts.
 * Limits: an ellipse that is nearly a circle (RA near 90) has no long axis to speak of. Turning the pelvis about the
 * beam is taken out by the transverse line; tilt and rotation are not.
 *
 * @example
 * inclinationFromLongAxis(
 *   { lateral: millimetres(30), cranial: millimetres(30) },
 *   { lateral: millimetres(80), cranial: millimetres(0) },
 * )
 * //=> 45 (degrees)
 */
export function inclinationFromLongAxis(longAxis: FilmDirection, transverseLine: FilmDirection): Degrees {
  if (longAxis.lateral === 0 && longAxis.cranial === 0) {
    throw new RangeError('the long axis must have a direction, got the zero vector');
  }
  if (!(transverseLine.lateral > 0)) {
    throw new RangeError(`the transverse line must point laterally, got ${transverseLine.lateral} mm`);
  }
  const along = transverseLine.lateral * longAxis.lateral + transverseLine.cranial * longAxis.cranial;
  const across = transverseLine.lateral * longAxis.cranial - transverseLine.cranial * longAxis.lateral;
  // An axis has two ends; the doubled remainder also takes -0 and what rounds to 180 to 0.
  return degrees(((atan2Deg(across, along) % 180) + 180) % 180);
}

/**
 * A cup from what an AP film shows and the side it is turned to, known from elsewhere.
 *
 * Frame: that of the film.
 * Units: degrees in, degrees out.
 * Domain: inclination in (0, 180), anteversion size below 90; RangeError outside.
 * Method: the size, with the sign of the version.
 * Source: ours.
 * Checked: tests/biomechanics/orientation/film-reading.test.ts.
 * Limits: the version must come from a lateral film, a CT or the operation; it cannot be guessed from the AP film.
 *
 * @example
 * cupFromFilm({ inclination: degrees(40), anteversionSize: degrees(15) }, 'retroverted')
 * //=> inclination 40, anteversion -15 (degrees)
 */
export function cupFromFilm(
  { inclination, anteversionSize }: FilmReading,
  version: 'anteverted' | 'retroverted',
): CupOrientation<'radiographic'> {
  const anteversion = version === 'anteverted' ? anteversionSize : degrees(0 - anteversionSize);
  assertCupAngle('inclination', 'radiographic', inclination);
  assertCupAngle('anteversion', 'radiographic', anteversion);
  return { definition: 'radiographic', inclination, anteversion };
}
