/** Where a reference value comes from. */
export type Origin =
  /** Printed in a source, or a plain difference or mean of printed figures. */
  | 'published'
  /** Computed when the evidence was gathered, from published definitions or inputs; no printed result was seen. */
  | 'derived'
  /** From memory. */
  | 'recalled';

/** A number, or the ends of a range; a bound or a sign has one end at infinity. */
export interface Span {
  readonly low: number;
  readonly high: number;
}

export interface Reference {
  readonly origin: Origin;
  readonly span: Span;
  /** Decimals it is printed with. */
  readonly decimals: number;
  /** A tolerance wider than the printed figure, and where it is from. */
  readonly tolerance?: { readonly by: number; readonly from: string };
}

/** One value of the library beside one of somebody else. */
export interface Row {
  /** The quantity in the field's words, with its inputs. */
  readonly what: string;
  readonly unit: string;
  /** Absent where nobody was found to have published the value. */
  readonly reference?: Reference;
  readonly ours: Span;
  /** Decimals ours is shown with. */
  readonly decimals: number;
  readonly source: string;
  readonly read: string;
  /** Inputs that the source leaves open and that were chosen here. */
  readonly guessed?: string;
  readonly remark?: string;
}

export const VERDICTS = [
  'printed precision',
  'stated tolerance or range',
  'bound or sign',
  'disagrees',
  'no published value',
] as const;
export type Verdict = (typeof VERDICTS)[number];

/** Rounding of numbers that are exact in decimals and not in doubles. */
const ROUNDING = 1e-9;

export function isBound({ low, high }: Span): boolean {
  return !Number.isFinite(low) || !Number.isFinite(high);
}

export function isValue({ low, high }: Span): boolean {
  return low === high;
}

/**
 * Ours minus the reference. Between a value and a range: from the value to the nearer end of the range, 0 inside. Of a
 * range in a range: how far it sticks out. Of a bound: from the bound to the end of ours that is nearer to breaking it.
 */
export function difference(reference: Span, ours: Span): number {
  if (!Number.isFinite(reference.high)) return ours.low - reference.low;
  if (!Number.isFinite(reference.low)) return ours.high - reference.high;
  if (isValue(reference)) {
    if (ours.low > reference.high) return ours.low - reference.high;
    return Math.min(0, ours.high - reference.low);
  }
  const above = Math.max(0, ours.high - reference.high);
  const below = Math.min(0, ours.low - reference.low);
  return above >= -below ? above : below;
}

/** How a row stands; worked out from its numbers, never stated. */
export function verdict({ reference, ours }: Row): Verdict {
  if (reference === undefined) return 'no published value';
  const { span, decimals, tolerance } = reference;
  const apart = difference(span, ours);
  if (isBound(span)) {
    const isMet = Number.isFinite(span.low) ? apart > 0 : apart < 0;
    return isMet ? 'bound or sign' : 'disagrees';
  }
  const printed = 0.5 * 10 ** -decimals + ROUNDING;
  const isPlain = isValue(span) && isValue(ours);
  if (Math.abs(apart) <= printed) return isPlain ? 'printed precision' : 'stated tolerance or range';
  if (tolerance !== undefined && Math.abs(apart) <= tolerance.by + ROUNDING)
    return 'stated tolerance or range';
  return 'disagrees';
}
