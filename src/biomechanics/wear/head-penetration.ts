import { millimetres, type Millimetres } from '../../base/units.js';

/** How a head sinks into its liner: once while it beds in, then steadily. */
export interface PenetrationCourse {
  readonly beddingIn: Millimetres;
  /** Years over which it beds in; the steady rate counts from there. */
  readonly beddingInYears: number;
  readonly rateMmPerYear: number;
}

/**
 * Total penetration of the head after some years.
 *
 * Frame: along the direction in which the head sinks.
 * Units: millimetres and years in, millimetres out.
 * Domain: bedding-in, its years and the rate not negative, years not before the end of bedding-in; RangeError outside.
 * Method: bedding-in + rate x (years - bedding-in years).
 * Source: ours; a straight line after bedding-in. Its figures belong to the rulebook.
 * Checked: ten years of two materials in tests/biomechanics/wear/head-penetration.test.ts.
 * Limits: an average course; it foretells no single liner, and a rate may rise late.
 *
 * @example
 * headPenetration({ beddingIn: millimetres(0.39), beddingInYears: 0.25, rateMmPerYear: 0.12 }, 10)
 * //=> 1.56 (mm)
 */
export function headPenetration(
  { beddingIn, beddingInYears, rateMmPerYear }: PenetrationCourse,
  years: number,
): Millimetres {
  if (!(beddingIn >= 0 && rateMmPerYear >= 0)) {
    throw new RangeError(
      `bedding-in and rate must not be negative, got ${beddingIn} mm and ${rateMmPerYear} mm a year`,
    );
  }
  assertBeddedIn(beddingInYears, years);
  return millimetres(beddingIn + rateMmPerYear * (years - beddingInYears));
}

function assertBeddedIn(beddingInYears: number, years: number): void {
  if (!(beddingInYears >= 0 && years >= beddingInYears)) {
    throw new RangeError(`years must not end before bedding-in at ${beddingInYears}, got ${years}`);
  }
}

/** A total penetration and the years since the liner was put in. */
export interface PenetrationReading {
  readonly total: Millimetres;
  readonly years: number;
}

/**
 * Rate at which a head sinks after bedding-in, in millimetres per year, from two readings.
 *
 * Frame: along the direction in which the head sinks.
 * Units: millimetres and years in, millimetres per year out.
 * Domain: penetrations not negative, the earlier reading not before the end of bedding-in, the later one after it; RangeError
 * otherwise.
 * Method: (later - earlier) / years between.
 * Source: ours; the slope of a line.
 * Checked: round trip in tests/biomechanics/wear/head-penetration.test.ts.
 * Limits: both errors of reading fall on the rate, divided by the years between; a small negative rate is such an error.
 *
 * @example
 * penetrationRate({
 *   earlier: { total: millimetres(0.6), years: 2 }, later: { total: millimetres(1.4), years: 10 }, beddingInYears: 0.25,
 * })
 * //=> 0.1 (mm per year)
 */
export function penetrationRate({
  earlier,
  later,
  beddingInYears,
}: {
  readonly earlier: PenetrationReading;
  readonly later: PenetrationReading;
  readonly beddingInYears: number;
}): number {
  if (!(earlier.total >= 0 && later.total >= 0)) {
    throw new RangeError(`penetration must not be negative, got ${earlier.total} mm and ${later.total} mm`);
  }
  assertBeddedIn(beddingInYears, earlier.years);
  if (!(later.years > earlier.years)) {
    throw new RangeError(
      `the later reading must follow the one at ${earlier.years} years, got ${later.years}`,
    );
  }
  return (later.total - earlier.total) / (later.years - earlier.years);
}
