import type {
  ElevationPiece,
  EndPiece,
  LevelPiece,
  Meeting,
  RampPiece,
  RimContact,
  UprightPiece,
} from './rim-contact.js';

/*
 * How far the neck can lean toward an azimuth before it touches one piece of rim, and whether a lean touches it; the inside
 * of `half-oscillation.ts`. Angles are radians. A point of the rim is touched while the lean lies between the one at which
 * it enters the neck and the one at which it leaves it; what is asked of the two is a `Measure`.
 */

/** What is asked of the leans at which a point of the rim enters and leaves the neck: the less, the sooner it counts. */
type Measure = (enters: number, leaves: number) => number;

/** The first lean, from 0 on, of those for which a point lies in the neck. */
function firstFromZero(enters: number, leaves: number): number {
  if (enters >= 0) return enters;
  return leaves >= 0 ? 0 : Infinity;
}

/** How far a lean is from touching a point, straight toward or away from the axis; negative while it touches it. */
function clearanceAt(lean: number): Measure {
  return (enters, leaves) => Math.max(enters - lean, lean - leaves);
}

/** Lean and roll of the neck: its azimuth, and the sine and cosine of its turn about its own axis. */
export interface Lean {
  readonly azimuth: number;
  /** Of the angle from the rim's tangent to the normal of the flats, about the neck axis. */
  readonly sineOfRoll: number;
  readonly cosineOfRoll: number;
}

/** Least lean at which anything of a rim is touched; Infinity where nothing ever is. */
export function firstTouch(contact: RimContact, lean: Lean): number {
  return Math.max(0, leastOfRim(contact, lean, firstFromZero));
}

/**
 * How far a lean is from touching anything of a rim, straight toward or away from the opening axis; negative while it
 * touches. Beside the end of a lip a neck may stand free beyond a lean at which it would touch: the first touch of a
 * straight lean is not all there is to contact.
 */
export function clearance(contact: RimContact, lean: Lean, angle: number): number {
  return leastOfRim(contact, lean, clearanceAt(angle));
}

function leastOfRim(contact: RimContact, lean: Lean, measure: Measure): number {
  let least = Infinity;
  for (const meeting of contact.round)
    least = Math.min(least, measure(touchOfRound(meeting, lean), Infinity));
  if (contact.elevation.length === 0) return least;
  const away = turn(lean.azimuth - contact.middle);
  const neck = { lean, away, measure, isFlattened: contact.isFlattened };
  for (const piece of contact.elevation) least = Math.min(least, leastOfPiece(piece, neck, least));
  return least;
}

/** The leaning neck as a piece of elevation sees it, and what is asked. */
interface Asked {
  readonly lean: Lean;
  /** Azimuth of the neck from the elevation's middle. */
  readonly away: number;
  readonly measure: Measure;
  readonly isFlattened: boolean;
}

function leastOfPiece(piece: ElevationPiece, asked: Asked, known: number): number {
  switch (piece.kind) {
    case 'level':
      return leastOfLevel(piece, asked);
    case 'end':
      return leastOfEnd(piece, asked);
    case 'upright':
      return leastOfUpright(piece, asked);
    case 'ramp':
      return leastOfRamp(piece, asked, known);
    default:
      return piece satisfies never;
  }
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
 * When one point of the rim lies in the neck. With the point's direction in the plane of the lean at `center` from the
 * axis and `reach` long, it enters the cap at center - spread and leaves it at center + spread; between the flats it must
 * lie within the band as well, which is linear in sin(center - lean).
 */
function leastOfPoint(
  { cap, band }: Meeting,
  polar: number,
  aside: number,
  { lean, measure }: Pick<Asked, 'lean' | 'measure'>,
): number {
  const [up, out] = [Math.cos(polar), Math.sin(polar) * Math.cos(aside)];
  const reach = Math.hypot(up, out);
  const cosine = Math.cos(cap) / reach;
  if (!(cosine <= 1)) return Infinity;
  const center = Math.atan2(out, up);
  const spread = Math.acos(cosine);
  if (band === 1) return measure(center - spread, center + spread);
  const steady = lean.cosineOfRoll * Math.sin(polar) * Math.sin(aside);
  const slope = lean.sineOfRoll * reach;
  if (Math.abs(slope) < NO_SLOPE) {
    return Math.abs(steady) <= band ? measure(center - spread, center + spread) : Infinity;
  }
  const ends = [(-band - steady) / slope, (band - steady) / slope] as const;
  const limit = Math.sin(spread);
  const [least, most] = [Math.max(-limit, Math.min(...ends)), Math.min(limit, Math.max(...ends))];
  return most < least ? Infinity : measure(center - Math.asin(most), center - Math.asin(least));
}

function leastOfLevel({ meeting, half }: LevelPiece, asked: Asked): number {
  const { away, measure } = asked;
  if (asked.isFlattened) {
    return leastInParts(partedAt([-half, half], away), (at) =>
      leastOfPoint(meeting, meeting.polar, at - away, asked),
    );
  }
  // Beside its ends the nearest point is an end, and that belongs to the end wall or the ramp.
  return Math.abs(away) <= half ? measure(meeting.polar - meeting.cap, Infinity) : Infinity;
}

function leastOfEnd({ meeting, foot, away: at }: EndPiece, asked: Asked): number {
  const aside = turn(at - asked.away);
  if (Math.cos(aside) <= 0) return Infinity;
  if (meeting.band < 1 || asked.measure !== firstFromZero) {
    return leastOver(meeting.polar, foot, (polar) => leastOfPoint(meeting, polar, aside, asked));
  }
  const corner = leastOfPoint(meeting, meeting.polar, aside, asked);
  const sine = Math.sin(meeting.cap) / Math.abs(Math.sin(aside));
  if (!(sine <= 1)) return corner;
  const side = Math.asin(sine);
  const met = Math.atan2(sine * Math.cos(aside), Math.cos(side));
  return met > meeting.polar && met < foot ? Math.min(corner, side) : corner;
}

function leastOfUpright({ away: at, parts, meetingsAt }: UprightPiece, asked: Asked): number {
  // Straight ahead a round neck meets the top of an upright edge first, and that belongs to the end; sideways, any part.
  if (asked.measure === firstFromZero && !asked.isFlattened) return Infinity;
  const aside = turn(at - asked.away);
  if (Math.cos(aside) <= 0) return Infinity;
  return leastInParts(parts, (polar) => {
    let least = Infinity;
    for (const meeting of meetingsAt(polar))
      least = Math.min(least, leastOfPoint(meeting, polar, aside, asked));
    return least;
  });
}

function leastOfRamp(piece: RampPiece, asked: Asked, known: number): number {
  const { side, high, low, top, foot, breaks, meetingsAt } = piece;
  // The ramp in the sense in which it falls, and the neck's azimuth from its elevation's middle in that sense.
  const from = turn(side * asked.away);
  const nearest =
    from >= high && from <= low ? 0 : Math.min(Math.abs(turn(high - from)), Math.abs(turn(low - from)));
  if (asked.measure(earliestOn(piece, nearest), Infinity) >= known) return Infinity;
  const leastAt = (at: number): number => {
    const polar = foot + ((low - at) / (low - high)) * (top - foot);
    let least = Infinity;
    for (const meeting of meetingsAt(polar)) {
      least = Math.min(least, leastOfPoint(meeting, meeting.polar, side * (at - from), asked));
    }
    return least;
  };
  return leastInParts(
    asked.isFlattened ? partedAt([high, ...breaks, low], from) : [high, ...breaks, low],
    leastAt,
  );
}

/** Parts to search, parted once more where the neck leans: each of two corners between flat and side has its own valley. */
function partedAt(ends: readonly number[], lean: number): readonly number[] {
  const before = ends.filter((end) => end < lean);
  if (before.length === 0 || before.length === ends.length) return ends;
  return [...before, lean, ...ends.slice(before.length)];
}

function leastInParts(ends: readonly number[], value: (at: number) => number): number {
  return Math.min(...ends.slice(1).map((end, index) => leastOver(ends[index] ?? end, end, value)));
}

/** No point of a ramp is touched before one at its high end's angle, no further aside than its nearest, by the widest neck. */
function earliestOn({ top, widest }: RampPiece, aside: number): number {
  if (aside >= Math.PI / 2) return Infinity;
  return leastOfPoint({ polar: top, cap: widest, band: 1 }, top, aside, {
    lean: STRAIGHT,
    measure: entering,
  });
}

const entering: Measure = (enters) => enters;

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
