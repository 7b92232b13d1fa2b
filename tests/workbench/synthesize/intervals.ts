import jstat from 'jstat';

export type Interval = readonly [number, number];

const TAIL = 0.025;

/** Clopper and Pearson: the 95 % interval of a share seen in n. */
export function shareInterval(share: number, n: number): Interval {
  const events = Math.round(share * n);
  return [
    events === 0 ? 0 : jstat.beta.inv(TAIL, events, n - events + 1),
    events === n ? 1 : jstat.beta.inv(1 - TAIL, events + 1, n - events),
  ];
}

/** Student: the 95 % interval of a mean of n. */
export function meanInterval(mean: number, sd: number, n: number): Interval {
  const half = (jstat.studentt.inv(1 - TAIL, n - 1) * sd) / Math.sqrt(n);
  return [mean - half, mean + half];
}

/** Chi-square: the 95 % interval of a standard deviation of n. */
export function sdInterval(sd: number, n: number): Interval {
  const scaled = (n - 1) * sd ** 2;
  return [Math.sqrt(scaled / chiSquare(1 - TAIL, n - 1)), Math.sqrt(scaled / chiSquare(TAIL, n - 1))];
}

function chiSquare(p: number, degrees: number): number {
  let [low, high] = [0, 3 * degrees + 100];
  for (let step = 0; step < 100; step += 1) {
    const middle = (low + high) / 2;
    if (jstat.chisquare.cdf(middle, degrees) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Fisher: the 95 % interval of a correlation of n pairs. */
export function correlationInterval(r: number, n: number): Interval {
  const half = jstat.normal.inv(1 - TAIL, 0, 1) / Math.sqrt(n - 3);
  return [Math.tanh(Math.atanh(r) - half), Math.tanh(Math.atanh(r) + half)];
}

export function widened([low, high]: Interval, by: number): Interval {
  return [low - by, high + by];
}

export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

export function sd(values: readonly number[]): number {
  const center = mean(values);
  return Math.sqrt(values.reduce((sum, value) => sum + (value - center) ** 2, 0) / (values.length - 1));
}

export function correlation(a: readonly number[], b: readonly number[]): number {
  const [meanA, meanB] = [mean(a), mean(b)];
  const together = a.reduce((sum, value, index) => sum + (value - meanA) * ((b[index] ?? NaN) - meanB), 0);
  return together / ((a.length - 1) * sd(a) * sd(b));
}

/** Ranks, ties sharing the middle one. */
export function ranks(values: readonly number[]): readonly number[] {
  const order = values.map((_, index) => index).sort((a, b) => (values[a] ?? NaN) - (values[b] ?? NaN));
  const found = new Array<number>(values.length);
  for (let start = 0; start < order.length;) {
    let end = start;
    while (end < order.length && values[order[end] ?? NaN] === values[order[start] ?? NaN]) end += 1;
    for (let at = start; at < end; at += 1) found[order[at] ?? NaN] = (start + end - 1) / 2;
    start = end;
  }
  return found;
}

/** Slopes of y on two variables, by least squares. */
export function slopes(
  y: readonly number[],
  a: readonly number[],
  b: readonly number[],
): readonly [number, number] {
  const [rYa, rYb, rAb] = [correlation(y, a), correlation(y, b), correlation(a, b)];
  const [sdY, sdA, sdB] = [sd(y), sd(a), sd(b)];
  const left = 1 - rAb ** 2;
  return [((rYa - rYb * rAb) / left) * (sdY / sdA), ((rYb - rYa * rAb) / left) * (sdY / sdB)];
}
