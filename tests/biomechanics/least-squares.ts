/** One observation: the regressors, including a 1 for the intercept, and the value observed. */
export interface Observation {
  readonly x: readonly number[];
  readonly y: number;
}

/** Ordinary least squares by the normal equations, with the correlation between fitted and observed values. */
export function fitLinear(rows: readonly Observation[]): {
  readonly coefficients: readonly number[];
  readonly r: number;
} {
  const size = rows[0]?.x.length ?? 0;
  const indices = Array.from({ length: size }, (_, index) => index);
  const system = indices.map((i) => [
    ...indices.map((j) => sum(rows.map(({ x }) => at(x, i) * at(x, j)))),
    sum(rows.map(({ x, y }) => at(x, i) * y)),
  ]);
  const coefficients = solve(system);
  const fitted = rows.map(({ x }) => sum(x.map((value, index) => value * at(coefficients, index))));
  return {
    coefficients,
    r: correlation(
      fitted,
      rows.map(({ y }) => y),
    ),
  };
}

/** Pearson's correlation. */
export function correlation(a: readonly number[], b: readonly number[]): number {
  const meanA = sum(a) / a.length;
  const meanB = sum(b) / b.length;
  const covariance = sum(a.map((value, index) => (value - meanA) * (at(b, index) - meanB)));
  return covariance / Math.sqrt(sum(a.map((v) => (v - meanA) ** 2)) * sum(b.map((v) => (v - meanB) ** 2)));
}

/** Gauss-Jordan elimination with partial pivoting of an augmented matrix. */
function solve(augmented: readonly (readonly number[])[]): readonly number[] {
  let rows = augmented.map((row) => [...row]);
  for (let column = 0; column < rows.length; column += 1) {
    const pivotIndex = rows.reduce(
      (best, row, index) =>
        index >= column && Math.abs(at(row, column)) > Math.abs(at(rows[best] ?? [], column)) ? index : best,
      column,
    );
    const pivot = rows[pivotIndex] ?? [];
    const scaled = pivot.map((value) => value / at(pivot, column));
    const others = rows.filter((_, index) => index !== pivotIndex);
    const cleared = others.map((row) =>
      row.map((value, index) => value - at(row, column) * at(scaled, index)),
    );
    rows = [...cleared.slice(0, column), scaled, ...cleared.slice(column)];
  }
  return rows.map((row) => at(row, row.length - 1));
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

function at(values: readonly number[], index: number): number {
  const value = values[index];
  if (value === undefined) throw new RangeError(`no value at ${index}`);
  return value;
}
