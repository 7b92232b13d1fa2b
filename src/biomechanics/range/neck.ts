import type { Millimetres } from '../../base/units.js';

/** A sleeve or step of the neck, round, from the head center along the neck axis. */
export interface NeckCollar {
  readonly diameter: Millimetres;
  /** How far it reaches from the head center along the neck axis. */
  readonly length: Millimetres;
}

/** The prosthetic neck as a solid: coaxial cylinders about an axis through the head center. */
export interface Neck {
  readonly diameter: Millimetres;
  /** Width across two flats that face forward and backward, for a flattened neck; round without it. */
  readonly flats?: Millimetres;
  /** The part of the stem's taper that shows between head and neck, thinner or thicker than the neck. */
  readonly taper?: NeckCollar;
  /** Skirt of a long head; lies over neck and taper. */
  readonly skirt?: NeckCollar;
}

/** One cylinder of a neck, from `start` to `end` along the neck axis. */
export interface NeckSection {
  readonly start: number;
  readonly end: number;
  readonly radius: number;
  /** Half the width across the flats; the radius where there are none. */
  readonly halfWidth: number;
}

/**
 * The cylinders a neck is made of, in millimetres from the head center along the neck axis.
 *
 * Frame: along the neck axis, from the head center toward the shaft.
 * Units: millimetres.
 * Domain: diameters positive and thinner than the head, flats no wider than the neck, lengths positive; RangeError
 * outside.
 * Method: taper from 0 to its length, neck from there on without end, skirt from 0 to its length over both.
 * Source: ours; the parts every stem has. Rounded transitions are left out.
 * Checked: against meshes of the same solids in tests/biomechanics/mesh-contact.test.ts.
 * Limits: coaxial and straight; a neck that flares or bends toward the shaft is thicker than this further down.
 *
 * @example
 * neckSections({ diameter: millimetres(12), skirt: { diameter: millimetres(16), length: millimetres(20) } }, millimetres(28))
 * //=> [{ start: 0, end: Infinity, radius: 6, halfWidth: 6 }, { start: 0, end: 20, radius: 8, halfWidth: 8 }]
 */
export function neckSections(neck: Neck, head: Millimetres): readonly NeckSection[] {
  const { diameter, flats, taper, skirt } = neck;
  assertThinner('neck', diameter, head);
  if (flats !== undefined && !(flats > 0 && flats <= diameter)) {
    throw new RangeError(`width across the flats must lie in (0, ${diameter}] mm, got ${flats}`);
  }
  const shaft: NeckSection = {
    start: taper?.length ?? 0,
    end: Infinity,
    radius: diameter / 2,
    halfWidth: (flats ?? diameter) / 2,
  };
  return [
    shaft,
    ...(taper ? [collarSection('taper', taper, head)] : []),
    ...(skirt ? [collarSection('skirt', skirt, head)] : []),
  ];
}

function collarSection(name: string, { diameter, length }: NeckCollar, head: Millimetres): NeckSection {
  assertThinner(name, diameter, head);
  if (!(length > 0)) throw new RangeError(`${name} length must be positive, got ${length} mm`);
  return { start: 0, end: length, radius: diameter / 2, halfWidth: diameter / 2 };
}

function assertThinner(name: string, diameter: Millimetres, head: Millimetres): void {
  if (diameter > 0 && diameter < head) return;
  throw new RangeError(
    `${name} diameter must lie between 0 and the head diameter ${head} mm, got ${diameter} mm`,
  );
}

/** Steps in which the straight edge between a front face and a flat is looked at. */
const FRONT_STEPS = 16;

/**
 * Distances from the head center of a section's edges: where its end faces meet its side and its flats. The edge between
 * a front face and a flat runs from one to the other; beside a lip any part of it may touch first.
 */
export function sectionCorners({ start, end, radius, halfWidth }: NeckSection): readonly number[] {
  const ends = [start, end].filter((along) => along > 0 && Number.isFinite(along));
  const corners = ends.flatMap((along) => [Math.hypot(along, radius), Math.hypot(along, halfWidth)]);
  if (start === 0 || halfWidth === radius) return corners;
  const reach = radius ** 2 - halfWidth ** 2;
  const edge = Array.from({ length: FRONT_STEPS - 1 }, (_, index) =>
    Math.hypot(start, halfWidth, Math.sqrt(reach) * ((index + 1) / FRONT_STEPS)),
  );
  return [...corners, ...edge];
}

/**
 * Sine of the half-angle under which a section appears from the head center, on the sphere of a given distance;
 * undefined where the section does not reach that sphere.
 */
export function sineOfHalfAngle({ start, end, radius }: NeckSection, distance: number): number | undefined {
  if (distance < start || distance > Math.hypot(end, radius)) return undefined;
  // Nearer than its front edge only the front face meets the sphere.
  if (distance < Math.hypot(start, radius)) return Math.sqrt(1 - (start / distance) ** 2);
  return Math.min(1, radius / distance);
}
