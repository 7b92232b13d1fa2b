import type { Rulebook } from '../rulebook/types.js';

/**
 * The smallest step that means anything to a reader, by unit: what a threshold is nudged by, and how near a value must
 * lie to count as just beside it. Counts and grades step by one, whatever their unit.
 */
export const STEPS: Readonly<Record<string, number>> = {
  deg: 0.1,
  mm: 0.1,
  'mm/a': 0.01,
  '1': 0.01,
  '{grade}': 1,
  'kg/m2': 0.1,
  'mg/L': 0.1,
  'mm/h': 1,
  'ug/L': 0.1,
};

const COUNT = 1;
const OTHER = 0.1;

/** The step of what a comparison asks about. */
export function stepFor(fact: string, unit: string | undefined, { factById }: Rulebook): number {
  const definition = factById.get(fact);
  if (definition && 'valueType' in definition && definition.valueType === 'integer') return COUNT;
  // Age counts completed years.
  if (definition?.kind === 'patient') return COUNT;
  return STEPS[unit ?? '1'] ?? OTHER;
}

/** A limit moved by steps, free of the dust of binary fractions. */
export function nudged(limit: number, steps: number, step: number): number {
  return Number((limit + steps * step).toFixed(9));
}
