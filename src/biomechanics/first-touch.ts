import type { EndPiece, Meeting, RampPiece, RimContact } from './rim-contact.js';

/*
 * How far the neck can lean toward an azimuth before it touches one piece of rim; the inside of `half-oscillation.ts`.
 * Angles are radians; Infinity where the piece is never touched, 0 where it is touched before the neck leans at all.
 */

/** Lean and roll of the neck: its azimuth, and the sine and cosine of its turn about its own axis. */
export interface Lean {
  readonly azimuth: number;
  /** Of the angle from the rim's tangent to the normal of the flats, about the neck axis. */
  readonly sineOfRoll: number;
  readonly cosineOfRoll: number;
}

/** Least lean at which anything of a rim is touched. */
export function firstTouch(contact: RimContact, lean: Lean): number {
  let least = Infinity;
  for (const meeting of contact.round) least = Math.min(least, touchOfRound(meeting, lean));
  if (contact.elevation.length === 0) return Math.max(0, least);
  const away = turn(lean.azimuth - contact.middle);
  for (const piece of contact.elevation) {
    switch (piece.kind) {
      case 'level':
        least = Math.min(least, touchOfLevel(piece.meeting, piece.half, away, lean, contact.isFlattened));
        break;
      case 'end':
        least = Math.min(least, touchOfEnd(piece, away, lean));
        break;
      case 'ramp':
        least = Math.min(least, touchOfRamp(piece, away, lean, least));
        break;
      default:
        piece satisfies never;
    }
  }
  return Math.max(0, least);
}

/** A flat whose normal lies this close to the rim's tangent never turns its band toward the rim. */
const NO_SLOPE = 1e-12;

function turn(angle: number): number {
  return Math.atan2(Math.sin(angle), Math.cos(angle));
}

/**
 * A rim at one height all round. A round neck touches it straight ahead. Flats that cut that point off leave the
 * nearest corner between side and flat.
 */
function touchOfRound({ polar, cap, band }: Meeting, { sineOfRoll }: Lean): number {
  const roll = Math.abs(sineOfRoll);
  const sineOfCap = Math.sin(cap);
  if (sineOfCap * roll <= band) return polar - cap;
  const aside = Math.asin(Math.min(1, roll)) - Math.asin(band / sineOfCap);
  const [along, across] = [Math.cos(cap), sineOfCap * Math.cos(aside)];
  const cosine = Math.cos(polar) / Math.hypot(along, across);
  if (cosine < -1) return Infinity;
  return Math.acos(Math.min(1, cosine)) - Math.atan2(across, along);
}

/**
 * Least lean at which one point of the rim lies in the neck. With the point's direction in the plane of the lean at
 * `center` from the axis and `reach` long, it enters the cap at center - spread and leaves it at center + spread; between
 * the flats it must lie within the band as well, which is linear in sin(center - lean).
 */
function touchOfPoint(meeting: Meeting, polar: number, beside: number, lean: Lean): number {
  const [up, out] = [Math.cos(polar), Math.sin(polar) * Math.cos(beside)];
  const reach = Math.hypot(up, out);
  const cosine = Math.cos(meeting.cap) / reach;
  if (!(cosine <= 1)) return Infinity;
  const center = Math.atan2(out, up);
  const spread = Math.acos(cosine);
  if (meeting.band === 1) return firstFromZero(center - spread, center + spread);
  const steady = lean.cosineOfRoll * Math.sin(polar) * Math.sin(beside);
  const slope = lean.sineOfRoll * reach;
  if (Math.abs(slope) < NO_SLOPE) {
    return Math.abs(steady) <= meeting.band ? firstFromZero(center - spread, center + spread) : Infinity;
  }
  const ends = [(-meeting.band - steady) / slope, (meeting.band - steady) / slope] as const;
  const limit = Math.sin(spread);
  const [least, most] = [Math.max(-limit, Math.min(...ends)), Math.min(limit, Math.max(...ends))];
  return most < least ? Infinity : firstFromZero(center - Math.asin(most), center - Math.asin(least));
}

/** The first lean, from 0 on, of those for which a point lies in the neck. */
function firstFromZero(enters: number, leaves: number): number {
  if (enters >= 0) return enters;
  return leaves >= 0 ? 0 : Infinity;
}

function touchOfLevel(
  meeting: Meeting,
  half: number,
  away: number,
  lean: Lean,
  isFlattened: boolean,
): number {
  if (isFlattened) {
    return leastOver(-half, half, (at) => touchOfPoint(meeting, meeting.polar, at - away, lean));
  }
  // Beside its ends the nearest point is an end, and that belongs to the end wall or the ramp.
  return Math.abs(away) <= half ? meeting.polar - meeting.cap : Infinity;
}

function touchOfEnd({ meeting, foot, away: at }: EndPiece, away: number, lean: Lean): number {
  const beside = turn(at - away);
  if (Math.cos(beside) <= 0) return Infinity;
  if (meeting.band < 1) {
    return leastOver(meeting.polar, foot, (polar) => touchOfPoint(meeting, polar, beside, lean));
  }
  const corner = touchOfPoint(meeting, meeting.polar, beside, lean);
  const sine = Math.sin(meeting.cap) / Math.abs(Math.sin(beside));
  if (!(sine <= 1)) return corner;
  const side = Math.asin(sine);
  const met = Math.atan2(sine * Math.cos(beside), Math.cos(side));
  return met > meeting.polar && met < foot ? Math.min(corner, side) : corner;
}

function touchOfRamp(piece: RampPiece, away: number, lean: Lean, known: number): number {
  const { side, high, low, top, foot, breaks, meetingsAt } = piece;
  // The ramp in the sense in which it falls, and the neck's azimuth from its elevation's middle in that sense.
  const from = turn(side * away);
  const nearest =
    from >= high && from <= low ? 0 : Math.min(Math.abs(turn(high - from)), Math.abs(turn(low - from)));
  if (earliestOn(piece, nearest) >= known) return Infinity;
  const touchAt = (at: number): number => {
    const polar = foot + ((low - at) / (low - high)) * (top - foot);
    let least = Infinity;
    for (const meeting of meetingsAt(polar)) {
      least = Math.min(least, touchOfPoint(meeting, meeting.polar, side * (at - from), lean));
    }
    return least;
  };
  const ends = [high, ...breaks, low];
  return Math.min(...ends.slice(1).map((end, index) => leastOver(ends[index] ?? end, end, touchAt)));
}

/** No point of a ramp is touched before one at its high end's angle, no further aside than its nearest, by the widest neck. */
function earliestOn({ top, widest }: RampPiece, aside: number): number {
  if (aside >= Math.PI / 2) return Infinity;
  return touchOfPoint({ polar: top, cap: widest, band: 1 }, top, aside, STRAIGHT);
}

const STRAIGHT: Lean = { azimuth: 0, sineOfRoll: 0, cosineOfRoll: 1 };

const SCAN = 12;
const GOLDEN = (Math.sqrt(5) - 1) / 2;
const PRECISION = 1e-9;

/** Least value of a function over an interval: a scan for the lowest part, then golden sections of it. */
function leastOver(from: number, to: number, value: (at: number) => number): number {
  const step = (to - from) / SCAN;
  let lowest = 0;
  let least = Infinity;
  for (let index = 0; index <= SCAN; index += 1) {
    const found = value(from + index * step);
    if (found < least) [least, lowest] = [found, index];
  }
  if (least === Infinity) return least;
  let left = from + Math.max(0, lowest - 1) * step;
  let right = from + Math.min(SCAN, lowest + 1) * step;
  let [inner, outer] = [right - GOLDEN * (right - left), left + GOLDEN * (right - left)];
  let [atInner, atOuter] = [value(inner), value(outer)];
  while (right - left > PRECISION) {
    if (atInner < atOuter) {
      [right, outer, atOuter] = [outer, inner, atInner];
      inner = right - GOLDEN * (right - left);
      atInner = value(inner);
    } else {
      [left, inner, atInner] = [inner, outer, atOuter];
      outer = left + GOLDEN * (right - left);
      atOuter = value(outer);
    }
  }
  return Math.min(least, atInner, atOuter);
}
