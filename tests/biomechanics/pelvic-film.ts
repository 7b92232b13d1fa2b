import { degrees, millimetres } from '../../src/base/units.js';
import { anteversionFromEllipse } from '../../src/biomechanics/orientation/film-reading.js';
import { toRadiographic } from '../../src/biomechanics/orientation/mixed-cup-angles.js';
import type { CupOrientation } from '../../src/biomechanics/orientation/cup-orientation.js';
import {
  projectedRim,
  type Exposure,
  type ProjectedRim,
} from '../../src/biomechanics/orientation/rim-projection.js';

/** The exposure of the records, in millimetres: source to detector, hip above detector, rim. */
export const DISTANCE = 1000;
export const HEIGHT = 150;
export const RADIUS = 25;

/** Where the hip lies from the beam's foot. */
export interface Place {
  readonly lateral: number;
  readonly cranial: number;
}

export const CENTERED: Place = { lateral: 0, cranial: 0 };

export function exposure({ lateral, cranial }: Place, height = HEIGHT): Exposure {
  return {
    sourceDetectorDistance: millimetres(DISTANCE),
    hipHeight: millimetres(height),
    lateralOffset: millimetres(lateral),
    cranialOffset: millimetres(cranial),
  };
}

/** The rim of a radiographic cup on the film. */
export function image(inclination: number, anteversion: number, place: Place, radius = RADIUS): ProjectedRim {
  return projectedRim(
    { definition: 'radiographic', inclination: degrees(inclination), anteversion: degrees(anteversion) },
    exposure(place),
    millimetres(radius),
  );
}

/** Size of anteversion as it is read on the film. */
export function anteversionShown(rim: ProjectedRim): number {
  return anteversionFromEllipse(rim).anteversionSize;
}

/** The radiographic cup of a version read on CT, taken as the anatomic one, under a radiographic inclination. */
export function cupFromCtVersion(inclination: number, version: number): CupOrientation<'radiographic'> {
  const mixed = toRadiographic({
    inclination: { definition: 'radiographic', value: degrees(inclination) },
    anteversion: { definition: 'anatomic', value: degrees(version) },
  });
  if (mixed.kind !== 'orientation') throw new Error(mixed.why);
  return mixed.orientation;
}
