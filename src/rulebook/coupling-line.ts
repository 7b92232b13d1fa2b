import type { Parameter } from './types.js';

/** The members of a published line that couples cup and stem, or undefined where a parameter is none. */
export function couplingLine(
  value: Parameter['value'] | undefined,
): { readonly sum: number; readonly stemWeight: number } | undefined {
  if (typeof value !== 'object' || Array.isArray(value)) return undefined;
  const { sum, stemWeight } = value;
  return typeof sum === 'number' && typeof stemWeight === 'number' ? { sum, stemWeight } : undefined;
}
