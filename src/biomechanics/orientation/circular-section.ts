import { cross, dot, length, pelvisVector, type Vec3 } from '../vector.js';

type Vector = Vec3<'pelvis'>;

/** One weighted square, weight × (v.q)^2. */
export interface WeightedSquare {
  readonly weight: number;
  readonly vector: Vector;
}

/** A cone with its apex at the origin: where three weighted squares add up to 0, two of them weighted above 0. */
export type Cone = readonly [WeightedSquare, WeightedSquare, WeightedSquare];

/** Halving from 1 to below the last bit takes 53 steps, the worst case of a rim seen from its edge. */
const STEPS = 64;

/**
 * The middle eigenvalue, by Newton's method from the inflection of the characteristic polynomial, from where it nears
 * the middle one of three real roots from one side. Coefficients by Cauchy and Binet, without cancellation, because
 * for a narrow cone the root is small and its digits count.
 */
function middleEigenvalue([a, b, c]: Cone): number {
  const minor = (one: WeightedSquare, other: WeightedSquare): number => {
    const normal = cross(one.vector, other.vector);
    return one.weight * other.weight * dot(normal, normal);
  };
  const trace = [a, b, c].reduce((sum, { weight, vector }) => sum + weight * dot(vector, vector), 0);
  const minors = minor(a, b) + minor(b, c) + minor(c, a);
  const volume = dot(a.vector, cross(b.vector, c.vector));
  const determinant = a.weight * b.weight * c.weight * volume * volume;
  let root = trace / 3;
  for (let step = 0; step < STEPS; step += 1) {
    const slope = (3 * root - 2 * trace) * root + minors;
    if (slope === 0) break;
    root -= (((root - trace) * root + minors) * root - determinant) / slope;
  }
  return root;
}

type Rows = readonly [Vector, Vector, Vector];

/** The matrix of the squares, less a multiple of the identity, by rows. */
function matrixLess(cone: Cone, value: number): Rows {
  const entry = (i: 0 | 1 | 2, j: 0 | 1 | 2): number =>
    cone.reduce((sum, { weight, vector }) => sum + weight * vector[i] * vector[j], i === j ? -value : 0);
  const row = (i: 0 | 1 | 2): Vector => pelvisVector(entry(i, 0), entry(i, 1), entry(i, 2));
  return [row(0), row(1), row(2)];
}

/** The longest of three vectors, which rounding has harmed least. */
function longest(vectors: Rows): Vector {
  return vectors.reduce((best, vector) => (length(vector) > length(best) ? vector : best));
}

/**
 * The two directions of planes that cut circles from a cone.
 *
 * Frame: pelvis, origin at the apex.
 * Units: none; normals of any length and either sign out.
 * Domain: a cone over an ellipse, also a flat one (negative weight 0).
 * Method: Q the matrix of the cone, l its middle eigenvalue. q'(Q - l I)q = 0 is a pair of planes with normals n, g:
 * N = Q - l I = n g' + g n', its adjugate is -p p' with p = n x g, and N + [p]x = 2 g n' has rows along n and columns
 * along g. Where the two planes meet p = 0 and both are the one.
 * Source: ours; circular sections of a cone, common practice.
 * Checked: cones built over circles in known planes in tests/biomechanics/orientation/circular-section.test.ts.
 * Limits: where the two planes nearly coincide half of the digits are lost, leaving about 1e-6 degrees.
 *
 * @example
 * circularSections([
 *   { weight: 1, vector: pelvisVector(0, 1, 0) },
 *   { weight: 0.5, vector: pelvisVector(0, 0, 1) },
 *   { weight: -0.5, vector: pelvisVector(1, 0, 0) },
 * ])
 * //=> normals along (1, 0.7071, 0) and (1, -0.7071, 0), of any length and sign; the cone is y^2 + z^2 / 2 = x^2 / 2
 */
export function circularSections(cone: Cone): readonly [Vector, Vector] {
  const [a, b, c] = matrixLess(cone, middleEigenvalue(cone));
  // Rows of the adjugate of a symmetric matrix; each lies along p, and their trace is -|p|^2.
  const adjugate: Rows = [cross(b, c), cross(c, a), cross(a, b)];
  const along = longest(adjugate);
  const square = Math.max(0, -(adjugate[0][0] + adjugate[1][1] + adjugate[2][2]));
  const scale = square === 0 ? 0 : Math.sqrt(square) / length(along);
  const [px, py, pz] = [along[0] * scale, along[1] * scale, along[2] * scale];
  const rows: Rows = [
    pelvisVector(a[0], a[1] - pz, a[2] + py),
    pelvisVector(b[0] + pz, b[1], b[2] - px),
    pelvisVector(c[0] - py, c[1] + px, c[2]),
  ];
  const column = (i: 0 | 1 | 2): Vector => pelvisVector(rows[0][i], rows[1][i], rows[2][i]);
  return [longest(rows), longest([column(0), column(1), column(2)])];
}
