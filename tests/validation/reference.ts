import type { Origin, Reference, Span, ToleranceKind } from './row.js';

/** Decimals a number is written with; figures printed with closing zeros say how many they have. */
function decimalsOf(value: number): number {
  return (String(value).split('.')[1] ?? '').length;
}

interface How {
  readonly origin?: Origin;
  readonly decimals?: number;
  readonly tolerance?: { readonly by: number; readonly kind: ToleranceKind; readonly from: string };
}

function reference(span: Span, value: number, { origin = 'published', decimals, tolerance }: How): Reference {
  return {
    origin,
    span,
    decimals: decimals ?? decimalsOf(value),
    ...(tolerance === undefined ? {} : { tolerance }),
  };
}

/** A figure as a source or record prints it. */
export function printed(value: number, how: How = {}): Reference {
  return reference({ low: value, high: value }, value, how);
}

export function printedRange(low: number, high: number, how: How = {}): Reference {
  return reference({ low, high }, low, how);
}

/** A bound, or with 0 a sign. */
export function moreThan(value: number, how: How = {}): Reference {
  return reference({ low: value, high: Infinity }, value, how);
}

export function lessThan(value: number, how: How = {}): Reference {
  return reference({ low: -Infinity, high: value }, value, how);
}

/** A source that found no gain and prints no figure. */
export function noGainStated(how: How = {}): Reference {
  const bound = lessThan(0, how);
  return { ...bound, inclusive: true, words: 'no gain stated' };
}

export function value(number: number): Span {
  return { low: number, high: number };
}

/** The least and the greatest of several values. */
export function spread(values: readonly number[]): Span {
  return { low: Math.min(...values), high: Math.max(...values) };
}

/** A number for the page; a minus only where a digit other than 0 follows. */
export function fixed(number: number, decimals: number): string {
  const text = number.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text;
}
