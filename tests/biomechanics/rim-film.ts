import { Plane, Quaternion, Ray, Vector3 } from 'three';
import { fitLinear } from './least-squares.js';

/**
 * A second, independent way from a cup to its film: rim points turned by three's quaternions, projected by three, and an
 * ellipse fitted by least squares. Nothing here uses the trigonometry or the conics under test.
 */

const RADIAN = Math.PI / 180;
/** Frame of the pelvis: X anterior, toward the source; Y cranial; Z lateral. */
const DETECTOR = new Plane(new Vector3(1, 0, 0), 0);
const POINTS = 60;

/** A point on the film: lateral, cranial. */
type FilmPoint = readonly [lateral: number, cranial: number];

export interface FittedEllipse {
  readonly majorAxis: number;
  readonly minorAxis: number;
  /** Direction of the long axis from the lateral direction, cranial positive, in [0, 180). */
  readonly angle: number;
  readonly center: FilmPoint;
}

/** The turn that takes a cup opening straight down into radiographic inclination and anteversion. */
export function radiographicTurn(inclination: number, anteversion: number): Quaternion {
  const forward = new Quaternion().setFromAxisAngle(new Vector3(0, 0, 1), anteversion * RADIAN);
  const outward = new Quaternion().setFromAxisAngle(new Vector3(1, 0, 0), -inclination * RADIAN);
  return outward.multiply(forward);
}

/** Points of a rim in space. */
export function rimInSpace(turn: Quaternion, radius: number, center: Vector3): readonly Vector3[] {
  return Array.from({ length: POINTS }, (_, index) => {
    const angle = (2 * Math.PI * index) / POINTS;
    return new Vector3(radius * Math.cos(angle), 0, radius * Math.sin(angle))
      .applyQuaternion(turn)
      .add(center);
  });
}

/** The film of a parallel beam. */
export function throughParallelBeam(points: readonly Vector3[]): readonly FilmPoint[] {
  return points.map((point) => onFilm(DETECTOR.projectPoint(point, new Vector3())));
}

/** The film of a beam from a point above the origin. */
export function throughPointSource(points: readonly Vector3[], distance: number): readonly FilmPoint[] {
  const source = new Vector3(distance, 0, 0);
  return points.map((point) => {
    const hit = new Ray(source, point.clone().sub(source).normalize()).intersectPlane(
      DETECTOR,
      new Vector3(),
    );
    if (hit === null) throw new Error('the rim lies behind the source');
    return onFilm(hit);
  });
}

/** Sine of the angle between a rim's plane and the ray through its center, above 0 when the cup opens toward the source. */
export function openingTowardSource(turn: Quaternion, center: Vector3, distance: number): number {
  const towardSource = new Vector3(distance, 0, 0).sub(center).normalize();
  return new Vector3(0, -1, 0).applyQuaternion(turn).dot(towardSource);
}

function onFilm({ y, z }: Vector3): FilmPoint {
  return [z, y];
}

/** The conic p u^2 + q uv + r v^2 + s u + t v = 1 through the points by least squares, as an ellipse. */
export function fitEllipse(points: readonly FilmPoint[]): FittedEllipse {
  const mean = [0, 1].map((i) => points.reduce((sum, point) => sum + (point[i] ?? NaN), 0) / points.length);
  const [mu, mv] = [mean[0] ?? NaN, mean[1] ?? NaN];
  const scale = Math.max(...points.map(([u, v]) => Math.hypot(u - mu, v - mv)));
  const rows = points.map(([lateral, cranial]) => {
    const [u, v] = [(lateral - mu) / scale, (cranial - mv) / scale];
    return { x: [u * u, u * v, v * v, u, v], y: 1 };
  });
  const [p = NaN, q = NaN, r = NaN, s = NaN, t = NaN] = fitLinear(rows).coefficients;
  const determinant = 4 * p * r - q * q;
  const [u, v] = [(q * t - 2 * r * s) / determinant, (q * s - 2 * p * t) / determinant];
  const level = 1 - (s * u + t * v) / 2;
  const spread = Math.hypot(p - r, q);
  const axis = (eigenvalue: number): number => 2 * scale * Math.sqrt(level / eigenvalue);
  const shortAxis = Math.atan2(q, p - r) / 2 / RADIAN;
  return {
    majorAxis: axis((p + r - spread) / 2),
    minorAxis: axis((p + r + spread) / 2),
    angle: (shortAxis + 270) % 180,
    center: [mu + scale * u, mv + scale * v],
  };
}
