import type { Truth } from './truth.js';

/**
 * A truth as one bit, so that the truths of a group's members gather in one number by `|`. BROKEN stands where an
 * evaluation would throw; it wins over everything, since every branch is evaluated.
 */
export const FALSE = 1;
export const UNKNOWN = 2;
export const TRUE = 4;
export const BROKEN = 8;

export type TruthBit = typeof FALSE | typeof UNKNOWN | typeof TRUE | typeof BROKEN;

/** Strong Kleene conjunction of gathered truths: false as soon as one is false, true only when all are. */
export function allOf(gathered: number): TruthBit {
  if (gathered & BROKEN) return BROKEN;
  if (gathered & FALSE) return FALSE;
  return gathered & UNKNOWN ? UNKNOWN : TRUE;
}

/** Strong Kleene disjunction of gathered truths: true as soon as one is true, false only when all are. */
export function anyOf(gathered: number): TruthBit {
  if (gathered & BROKEN) return BROKEN;
  if (gathered & TRUE) return TRUE;
  return gathered & UNKNOWN ? UNKNOWN : FALSE;
}

/** Negation of one truth. */
export function notOf(gathered: number): TruthBit {
  if (gathered & BROKEN) return BROKEN;
  if (gathered & UNKNOWN) return UNKNOWN;
  return gathered & TRUE ? FALSE : TRUE;
}

/** The truth a bit stands for; a broken one has none. */
export function truthOf(bit: number): Truth {
  switch (bit) {
    case FALSE:
      return 'false';
    case UNKNOWN:
      return 'unknown';
    case TRUE:
      return 'true';
    default:
      throw new RangeError(`expected the bit of a truth, found ${bit}`);
  }
}
