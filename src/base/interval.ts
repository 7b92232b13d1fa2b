/** A closed span of numbers a quantity may lie in; a known number has equal ends. Ends may be infinite. */
export interface Interval {
  readonly low: number;
  readonly high: number;
}

export function exactly(value: number): Interval {
  return { low: value, high: value };
}

export function isExact(interval: Interval): boolean {
  return interval.low === interval.high;
}

/** The smallest interval that holds all numbers given; throws on none. */
export function spanOf(values: readonly number[]): Interval {
  if (values.length === 0) throw new RangeError('an interval needs at least one number');
  return { low: Math.min(...values), high: Math.max(...values) };
}
