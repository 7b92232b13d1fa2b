/**
 * Rounds a computed number to a fixed step, once, as it becomes a fact.
 *
 * Trigonometric functions differ in the last bit between JavaScript engines. Rounding before any comparison or
 * rendering makes the same input give the same bytes everywhere. Steps: angles and lengths 1e-6, ratios 1e-9,
 * forces 1e-3. Negative zero becomes zero, because it would serialise alike but compare differently.
 */
export function roundToDecimals(value: number, decimals: number): number {
  if (!Number.isFinite(value)) throw new RangeError(`cannot round ${value}`);
  const scale = 10 ** decimals;
  const scaled = value * scale;
  // Above 2^53 the grid is finer than a double can hold: the value is already as round as it can be.
  if (Math.abs(scaled) >= Number.MAX_SAFE_INTEGER) return value;
  const rounded = Math.round(scaled) / scale;
  return rounded === 0 ? 0 : rounded;
}

const DECIMALS: Readonly<Record<string, number>> = { deg: 6, mm: 6, '1': 9, N: 3 };

/** Rounds by unit: `deg` and `mm` to 1e-6, ratios (`1`) to 1e-9, `N` to 1e-3; other units to 1e-6. */
export function roundForUnit(value: number, unit: string): number {
  return roundToDecimals(value, DECIMALS[unit] ?? 6);
}

/** Rounds an end of an interval by unit; an open end stays open. */
export function roundEnd(end: number, unit: string): number {
  return Number.isFinite(end) ? roundForUnit(end, unit) : end;
}
