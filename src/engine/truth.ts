/** Strong Kleene logic: unknown stays unknown unless the other branches decide alone. */
export type Truth = 'true' | 'false' | 'unknown';

export function not(truth: Truth): Truth {
  if (truth === 'unknown') return 'unknown';
  return truth === 'true' ? 'false' : 'true';
}

/** Conjunction: false as soon as one is false, true only when all are. */
export function all(truths: readonly Truth[]): Truth {
  if (truths.includes('false')) return 'false';
  return truths.includes('unknown') ? 'unknown' : 'true';
}

/** Disjunction: true as soon as one is true, false only when all are. */
export function any(truths: readonly Truth[]): Truth {
  if (truths.includes('true')) return 'true';
  return truths.includes('unknown') ? 'unknown' : 'false';
}
