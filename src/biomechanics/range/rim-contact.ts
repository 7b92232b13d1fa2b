import { rimPolar, rimSection, type Liner, type MeridianPoint, type RimElevation } from './liner.js';
import { sectionCorners, sineOfHalfAngle, type NeckSection } from './neck.js';

/*
 * Why contact can be settled exactly. Neck and liner turn about one center, so each of their points keeps its distance
 * from it: on the sphere of any distance the liner is a fixed region, and the neck a cap (cut by a band where it is
 * flattened) that moves over it. Sections of both solids through the center are bounded by straight lines, and the bore,
 * its chamfer and the space above the rim are convex, so the two first touch at an edge of one of them: at the distance
 * of a vertex of the rim's section, or of a corner of the neck.
 *
 * This file is the inside of `half-oscillation.ts`; its angles are radians.
 */

/** A piece of rim on one sphere, with what the neck shows there. */
export interface Meeting {
  /** Angle of the rim from the opening axis. */
  readonly polar: number;
  /** Half-angle of the neck's cap. */
  readonly cap: number;
  /** Sine of half the band between the flats; 1 for a round neck. */
  readonly band: number;
}

/** The raised edge at full height, between two azimuths told from the elevation's middle. */
export interface LevelPiece {
  readonly kind: 'level';
  readonly meeting: Meeting;
  readonly half: number;
}

/** The upright end of an elevation without ramps: from its top to where the flat rim begins. */
export interface EndPiece {
  readonly kind: 'end';
  readonly meeting: Meeting;
  readonly foot: number;
  readonly away: number;
}

/** An edge that falls evenly from the top of an elevation to the flat rim; `away` grows from its high to its low end. */
export interface RampPiece {
  readonly kind: 'ramp';
  readonly side: 1 | -1;
  readonly high: number;
  readonly low: number;
  /** Angle of the edge from the opening axis at the high and at the low end. */
  readonly top: number;
  readonly foot: number;
  /** The widest the neck shows anywhere on the ramp: no ramp is touched earlier than by this at its high end. */
  readonly widest: number;
  /** Where along the ramp a corner of the neck starts or stops to count, from its high to its low end. */
  readonly breaks: readonly number[];
  /** What the ramp meets where its edge is at that angle. */
  readonly meetingsAt: (polar: number) => readonly Meeting[];
}

/** The upright inner edge at an end of a straight wall without ramps; its distance from the center changes along it. */
export interface UprightPiece {
  readonly kind: 'upright';
  readonly away: number;
  /** Angles from the opening axis, from its top to its foot, parted where a part of the neck starts or stops to count. */
  readonly parts: readonly number[];
  readonly meetingsAt: (polar: number) => readonly Meeting[];
}

export type ElevationPiece = LevelPiece | EndPiece | RampPiece | UprightPiece;

/** Everything a neck and a rim can touch with. */
export interface RimContact {
  /** The rim away from an elevation, the same at every azimuth. */
  readonly round: readonly Meeting[];
  /** Azimuth of the elevation's middle. */
  readonly middle: number;
  readonly elevation: readonly ElevationPiece[];
  readonly isFlattened: boolean;
}

const RADIANS = Math.PI / 180;

/** Lengths closer than this, in mm, are one: a picometre. */
const SAME = 1e-9;

export function rimContact(liner: Liner, sections: readonly NeckSection[]): RimContact {
  const { elevation } = liner;
  return {
    round: meetings(rimSection(liner, 0), sections),
    middle: (elevation?.azimuth ?? 0) * RADIANS,
    elevation: elevation ? elevationPieces(liner, elevation, sections) : [],
    isFlattened: sections.some(({ halfWidth, radius }) => halfWidth < radius),
  };
}

/** Where vertices of the rim meet the neck, and corners of the neck the rim. */
function meetings(rim: readonly MeridianPoint[], sections: readonly NeckSection[]): readonly Meeting[] {
  return distancesOf(rim, sections).flatMap((distance) => {
    const polar = leastPolarAt(rim, distance);
    return polar === undefined ? [] : sections.flatMap((section) => meetingAt(section, distance, polar));
  });
}

function distancesOf(rim: readonly MeridianPoint[], sections: readonly NeckSection[]): readonly number[] {
  return [...new Set([...rim.map(distanceOf), ...sections.flatMap(sectionCorners)])];
}

function meetingAt(section: NeckSection, distance: number, polar: number): readonly Meeting[] {
  const sine = sineOfHalfAngle(section, distance);
  if (sine === undefined) return [];
  const isRound = section.halfWidth === section.radius;
  return [{ polar, cap: Math.asin(sine), band: isRound ? 1 : Math.min(1, section.halfWidth / distance) }];
}

function distanceOf({ radius, height }: MeridianPoint): number {
  return Math.hypot(radius, height);
}

function polarOf({ radius, height }: MeridianPoint): number {
  return Math.atan2(radius, height);
}

/** The least angle from the opening axis at which a rim's section stands at a distance from the center. */
function leastPolarAt(rim: readonly MeridianPoint[], distance: number): number | undefined {
  const polars = rim.flatMap((point, index) => {
    const own = Math.abs(distanceOf(point) - distance) < SAME ? [polarOf(point)] : [];
    const next = rim[index + 1];
    return next ? [...own, ...crossings(point, next, distance)] : own;
  });
  return polars.length === 0 ? undefined : Math.min(...polars);
}

function crossings(from: MeridianPoint, to: MeridianPoint, distance: number): readonly number[] {
  // Two points of one sphere bound an arc of it, not a chord: nothing between them lies at another distance.
  if (Math.abs(distanceOf(from) - distanceOf(to)) < SAME) return [];
  const [out, up] = [to.radius - from.radius, to.height - from.height];
  const square = out ** 2 + up ** 2;
  const half = from.radius * out + from.height * up;
  const root = half ** 2 - square * (distanceOf(from) ** 2 - distance ** 2);
  if (root < 0) return [];
  return [-1, 1]
    .map((sign) => (-half + sign * Math.sqrt(root)) / square)
    .filter((share) => share > 0 && share < 1)
    .map((share) => Math.atan2(from.radius + share * out, from.height + share * up));
}

function elevationPieces(
  liner: Liner,
  { angle, arc, ramp, shape }: RimElevation,
  sections: readonly NeckSection[],
): readonly ElevationPiece[] {
  const half = (arc / 2) * RADIANS;
  const top = rimSection(liner, 1);
  const levels = meetings(top, sections).map((meeting): LevelPiece => ({ kind: 'level', meeting, half }));
  if (ramp === 0) {
    const uprights = shape === 'straight-wall' ? uprightPieces(liner, angle, half, sections) : [];
    return [...levels, ...endPieces(liner, top, half, sections), ...uprights];
  }
  const [high, low] = [half, half + ramp * RADIANS];
  const foot = rimPolar(liner) * RADIANS;
  const topPolar = foot - angle * RADIANS;
  const edge = {
    high,
    low,
    top: topPolar,
    foot,
    widest: Math.max(...sections.map(({ radius }) => Math.asin(Math.min(1, radius / (liner.bore / 2))))),
    breaks: shape === 'on-sphere' ? [] : breaksOf(liner, sections, { high, low, top: topPolar, foot }),
    meetingsAt: shape === 'on-sphere' ? radialTop(liner, top, sections) : levelTop(liner, sections),
  };
  return [...levels, { kind: 'ramp', side: 1, ...edge }, { kind: 'ramp', side: -1, ...edge }];
}

/** The edge of the flat rim. */
function rimEdge(liner: Liner): MeridianPoint {
  const [first, second] = rimSection(liner, 0);
  const edge = liner.centerOffset < 0 ? second : first;
  if (!edge) throw new TypeError('a rim without an edge');
  return edge;
}

/** A lip with a radial top shows the neck the same on every height: what it meets does not change along the ramp. */
function radialTop(
  liner: Liner,
  top: readonly MeridianPoint[],
  sections: readonly NeckSection[],
): (polar: number) => readonly Meeting[] {
  const inner = distanceOf(rimEdge(liner));
  const outer = Math.max(...top.map(distanceOf));
  const met = widestOf(
    distancesOf(top, sections)
      .filter((distance) => distance > inner - SAME && distance < outer + SAME)
      .flatMap((distance) => sections.flatMap((section) => meetingAt(section, distance, 0))),
  );
  return (polar) => met.map(({ cap, band }) => ({ polar, cap, band }));
}

/** Of round caps at one angle only the widest is ever touched. */
function widestOf(met: readonly Meeting[]): readonly Meeting[] {
  const round = Math.max(...met.filter(({ band }) => band === 1).map(({ cap }) => cap));
  return [
    ...met.filter(({ band }) => band < 1),
    ...(Number.isFinite(round) ? [{ polar: 0, cap: round, band: 1 }] : []),
  ];
}

/**
 * A raised wall: its edge moves along the bore, so its distance from the center changes along the ramp. A corner of the
 * neck that is nearer meets the upright wall below the edge, one that is further the level top beyond it.
 */
function levelTop(liner: Liner, sections: readonly NeckSection[]): (polar: number) => readonly Meeting[] {
  const bore = liner.bore / 2;
  const corners = cornersOf(sections).filter((corner) => corner > bore);
  return (polar) => {
    const [sine, cosine] = [Math.sin(polar), Math.cos(polar)];
    const distance = cosine > 0 ? bore / sine : bore;
    const height = distance * cosine;
    const outermost = Math.hypot(distance * sine + liner.wall, height);
    return [distance, ...corners.filter((corner) => corner < outermost), outermost].flatMap((at) => {
      if (at === distance) return sections.flatMap((section) => meetingAt(section, at, polar));
      const met = at < distance ? Math.asin(bore / at) : Math.acos(height / at);
      return sections.flatMap((section) => meetingAt(section, at, met));
    });
  };
}

function cornersOf(sections: readonly NeckSection[]): readonly number[] {
  return [...new Set(sections.flatMap(sectionCorners))];
}

/** Where the edge, or the outer end, of a raised wall is as far from the center as a corner of the neck. */
function breaksOf(
  liner: Liner,
  sections: readonly NeckSection[],
  { high, low, top, foot }: Pick<RampPiece, 'high' | 'low' | 'top' | 'foot'>,
): readonly number[] {
  const bore = liner.bore / 2;
  return cornersOf(sections)
    .filter((corner) => corner > bore)
    .flatMap((corner) => [
      Math.asin(bore / corner),
      Math.atan2(bore, Math.sqrt(Math.max(0, corner ** 2 - (bore + liner.wall) ** 2))),
    ])
    .filter((polar) => polar > top && polar < foot)
    .map((polar) => high + ((polar - top) / (foot - top)) * (low - high))
    .sort((a, b) => a - b);
}

function endPieces(
  liner: Liner,
  top: readonly MeridianPoint[],
  half: number,
  sections: readonly NeckSection[],
): readonly EndPiece[] {
  const flat = rimSection(liner, 0);
  const lowest = Math.max(...flat.map(polarOf));
  return distancesOf(top, sections).flatMap((distance) => {
    const polar = leastPolarAt(top, distance);
    if (polar === undefined) return [];
    const foot = leastPolarAt(flat, distance) ?? lowest;
    return sections
      .flatMap((section) => meetingAt(section, distance, polar))
      .flatMap((meeting) => [half, -half].map((away): EndPiece => ({ kind: 'end', meeting, foot, away })));
  });
}

/** Pieces an upright edge is searched in, between the places where something starts or stops to count. */
const UPRIGHT_PARTS = 4;

function uprightPieces(
  liner: Liner,
  angle: number,
  half: number,
  sections: readonly NeckSection[],
): readonly UprightPiece[] {
  const bore = liner.bore / 2;
  const top = (rimPolar(liner) - angle) * RADIANS;
  const foot = Math.min(Math.PI / 2, rimPolar(liner) * RADIANS);
  if (top >= foot) return [];
  const breaks = cornersOf(sections)
    .filter((corner) => corner > bore)
    .map((corner) => Math.asin(bore / corner))
    .filter((polar) => polar > top && polar < foot);
  const ends = [top, ...breaks.sort((a, b) => a - b), foot];
  const parts = ends.flatMap((end, index) => {
    const next = ends[index + 1];
    if (next === undefined) return [end];
    return Array.from({ length: UPRIGHT_PARTS }, (_, step) => end + ((next - end) * step) / UPRIGHT_PARTS);
  });
  const meetingsAt = (polar: number): readonly Meeting[] =>
    sections.flatMap((section) => meetingAt(section, bore / Math.sin(polar), polar));
  return [half, -half].map((away): UprightPiece => ({ kind: 'upright', away, parts, meetingsAt }));
}
