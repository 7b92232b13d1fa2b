/** Where a reference value comes from. */
export type Origin =
  /** Printed in a source, or a plain difference or mean of printed figures. */
  | 'published'
  /** Printed, but worked out by its authors with the equation used here: it holds the code, not the model. */
  | 'same equation'
  /** Computed when the evidence was gathered, from published definitions or inputs; no printed result was seen. */
  | 'derived'
  /** From memory. */
  | 'recalled';

/** A number, or the ends of a range; a bound or a sign has one end at infinity. */
export interface Span {
  readonly low: number;
  readonly high: number;
}

/** What a tolerance is worth. */
export type ToleranceKind =
  /** Several printed figures were rounded before they were put together. */
  | 'rounding'
  /** The spread of persons or positions about the printed mean. */
  | 'spread'
  /** Set by this project, or its own sampling interval. */
  | 'ours';

export interface Reference {
  readonly origin: Origin;
  readonly span: Span;
  /** Decimals it is printed with. */
  readonly decimals: number;
  /** A tolerance wider than the printed figure, and where it is from. */
  readonly tolerance?: { readonly by: number; readonly kind: ToleranceKind; readonly from: string };
  /** A bound that may be touched. */
  readonly inclusive?: true;
  /** How the source puts it where it prints no figure. */
  readonly words?: string;
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
  /** The model was chosen with the published value in view, so that agreeing is no news. */
  readonly byConstruction?: true;
}

/** How the numbers of a row lie to each other. */
export const MATCHES = [
  'printed precision',
  'printed range',
  'bound or sign',
  'inside our range',
  'inside spread',
  'own tolerance',
  'disagrees',
  'no published value',
] as const;
export type Match = (typeof MATCHES)[number];

/** Matches that count as agreement with the reference. */
export const AGREEMENTS: readonly Match[] = ['printed precision', 'printed range', 'bound or sign'];

/** How a row is counted: its match, unless it agrees by construction. */
export type Verdict = Match | 'by construction';
export const VERDICTS: readonly Verdict[] = [
  ...AGREEMENTS,
  'by construction',
  'inside our range',
  'inside spread',
  'own tolerance',
  'disagrees',
  'no published value',
];

const OF_TOLERANCE: Readonly<Record<ToleranceKind, Match>> = {
  rounding: 'printed range',
  spread: 'inside spread',
  ours: 'own tolerance',
};

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

function keepsBound({ span, inclusive }: Reference, apart: number): boolean {
  const room = Number.isFinite(span.low) ? apart : -apart;
  return inclusive ? room >= -ROUNDING : room > 0;
}

/** How the numbers of a row lie to each other; half a printed digit is allowed to a printed value, and to no printed range. */
export function match({ reference, ours }: Row): Match {
  if (reference === undefined) return 'no published value';
  const { span, decimals, tolerance } = reference;
  const apart = difference(span, ours);
  if (isBound(span)) return keepsBound(reference, apart) ? 'bound or sign' : 'disagrees';
  if (!isValue(span)) return Math.abs(apart) <= ROUNDING ? 'printed range' : 'disagrees';
  const isPrinted = Math.abs(apart) <= 0.5 * 10 ** -decimals + ROUNDING;
  if (isPrinted) return isValue(ours) ? 'printed precision' : 'inside our range';
  if (!isValue(ours)) return 'disagrees';
  if (tolerance !== undefined && Math.abs(apart) <= tolerance.by + ROUNDING)
    return OF_TOLERANCE[tolerance.kind];
  return 'disagrees';
}

/** How a row is counted; worked out from its numbers, never stated. */
export function verdict(row: Row): Verdict {
  const found = match(row);
  return row.byConstruction && AGREEMENTS.includes(found) ? 'by construction' : found;
}
