import { degrees, type Degrees } from '../../base/units.js';
import type { CupOrientation } from './cup-orientation.js';
import { functionalCupOrientation } from './functional-cup.js';

/** How the pelvis lies, stands or sits; `table` is its position on the operating table. */
export const POSTURES = ['supine', 'standing', 'relaxed-seated', 'flexed-seated', 'table'] as const;
export type Posture = (typeof POSTURES)[number];

/** What the angles of a cup are stated against: the anterior pelvic plane, or a film or table in one posture. */
export type ReferencePlane = 'app' | 'supine-film' | 'standing-film' | 'table';

/** A tilt that was not measured. It must be said; no function here puts a number in its place. */
export type PlaneTilt = Degrees | 'unknown';

/**
 * Tilt of the anterior pelvic plane in every posture, anterior positive; each must be given or called unknown. For a
 * film it is the tilt on that film.
 */
export type PelvicTilts = Readonly<Record<Posture, PlaneTilt>>;

/** The cup asked for, or the tilts without which it cannot be told. */
export type RestatedCup =
  | { readonly kind: 'orientation'; readonly orientation: CupOrientation<'radiographic'> }
  | { readonly kind: 'unknown-tilt'; readonly needs: readonly Posture[] };

/** A cup, and the plane its angles are stated against. */
export interface ReferencedCup {
  readonly cup: CupOrientation<'radiographic'>;
  readonly plane: ReferencePlane;
}

/** The posture whose tilt carries a plane into the pelvis; none for the plane that is fixed in it. */
const POSTURE_OF: Readonly<Record<ReferencePlane, Posture | undefined>> = {
  app: undefined,
  'supine-film': 'supine',
  'standing-film': 'standing',
  table: 'table',
};

function restated(
  cup: CupOrientation<'radiographic'>,
  tilts: PelvicTilts,
  [from, to]: readonly [Posture | undefined, Posture | undefined],
): RestatedCup {
  // Within one plane tilt does not count, so it need not be known.
  if (from === to) return { kind: 'orientation', orientation: cup };
  const referenceTilt = tiltOf(from, tilts);
  const postureTilt = tiltOf(to, tilts);
  if (referenceTilt === 'unknown' || postureTilt === 'unknown') {
    const ends = [from, to].filter((posture) => posture !== undefined);
    return { kind: 'unknown-tilt', needs: ends.filter((posture) => tilts[posture] === 'unknown') };
  }
  return { kind: 'orientation', orientation: functionalCupOrientation(cup, { referenceTilt, postureTilt }) };
}

function tiltOf(posture: Posture | undefined, tilts: PelvicTilts): PlaneTilt {
  return posture === undefined ? degrees(0) : tilts[posture];
}

/**
 * Restates the angles of a cup against another reference plane.
 *
 * Frame: in, that of the plane named with the cup; out, that of the plane asked for. Each as the pelvis frame (X
 * anterior, Y cranial, Z lateral) of an upright pelvis.
 * Units: degrees in, degrees out; tilt anterior positive.
 * Domain: as `functionalCupOrientation`; RangeError outside. Where a tilt is needed and unknown, the answer names it.
 * Method: `functionalCupOrientation` from the tilt of the one plane to that of the other; 0 for the anterior pelvic
 * plane. So between films only the difference of tilts counts, and against the anterior pelvic plane the tilt itself.
 * Source: ours; murray-1993 for the definitions (abstract read).
 * Checked: closed forms, a way round all four planes, and published means of vorimore-2024 in
 * tests/biomechanics/orientation/reference-plane.test.ts.
 * Limits: as `functionalCupOrientation`. On the table only the tilt is taken out, not the roll of a lateral position.
 *
 * @example
 * const tilts = {
 *   supine: degrees(4),
 *   standing: degrees(-18),
 *   'relaxed-seated': 'unknown',
 *   'flexed-seated': 'unknown',
 *   table: 'unknown',
 * } as const;
 * const cup = { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(25) } as const;
 * restateCup({ cup, plane: 'supine-film' }, 'standing-film', tilts)
 * //=> kind 'orientation', inclination 50.20, anteversion 40.69 (degrees, rounded)
 */
export function restateCup(
  { cup, plane }: ReferencedCup,
  to: ReferencePlane,
  tilts: PelvicTilts,
): RestatedCup {
  return restated(cup, tilts, [POSTURE_OF[plane], POSTURE_OF[to]]);
}

/** A cup as it stands in one posture. */
export interface PosturedCup {
  readonly posture: Posture;
  readonly orientation: CupOrientation<'radiographic'>;
}

/**
 * A cup in every posture in which it can be told, in the order of `POSTURES`.
 *
 * Frame: out, that of a film taken in the posture, as `restateCup`.
 * Units: degrees in, degrees out; tilt anterior positive.
 * Domain: as `functionalCupOrientation`; RangeError outside. A posture without a tilt is left out, and with an unknown
 * tilt of the cup's own plane all but the posture of that plane.
 * Method: as `restateCup`, into each posture.
 * Source: ours; murray-1993 for the definitions (abstract read).
 * Checked: tests/biomechanics/orientation/reference-plane.test.ts.
 * Limits: as `restateCup`.
 *
 * @example
 * const tilts = {
 *   supine: degrees(0),
 *   standing: degrees(-22),
 *   'relaxed-seated': degrees(-25),
 *   'flexed-seated': 'unknown',
 *   table: 'unknown',
 * } as const;
 * const cup = { definition: 'radiographic', inclination: degrees(40), anteversion: degrees(25) } as const;
 * cupInPostures({ cup, plane: 'supine-film' }, tilts)
 * //=> supine 40.00/25.00, standing 50.20/40.69, relaxed-seated 52.28/42.57 (degrees, rounded)
 */
export function cupInPostures({ cup, plane }: ReferencedCup, tilts: PelvicTilts): readonly PosturedCup[] {
  return POSTURES.flatMap((posture) => {
    const outcome = restated(cup, tilts, [POSTURE_OF[plane], posture]);
    return outcome.kind === 'orientation' ? [{ posture, orientation: outcome.orientation }] : [];
  });
}
