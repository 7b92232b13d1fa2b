/** Numbers in [0, 1) from a seed, the same everywhere (mulberry32, public domain, by T. Ettinger). */
export function seededNumbers(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** A copy in another order, by these numbers. */
export function shuffled<Item>(items: readonly Item[], next: () => number): readonly Item[] {
  const copy = [...items];
  for (let last = copy.length - 1; last > 0; last--) {
    const other = Math.floor(next() * (last + 1));
    const [a, b] = [copy[last], copy[other]];
    if (a === undefined || b === undefined) continue;
    copy[last] = b;
    copy[other] = a;
  }
  return copy;
}
