/**
 * The line calls wait in, first come first served. One process answers one call after another: in each turn of the event
 * loop one call begins, so that connections are taken, bodies read, calls turned away and operators answered in between,
 * however many wait.
 */
export interface Line {
  /** Resolves when it is one's turn: at once when nobody else waits. */
  readonly turn: () => Promise<void>;
  /** How long a turn took lately, in milliseconds: a moving average. */
  readonly turnMs: () => number;
  /** How long the first in the line has waited, in milliseconds; 0 when nobody waits. */
  readonly waitedMs: () => number;
}

/** What the latest turn weighs in the average: some ten turns are remembered. */
const LATEST = 0.1;

interface Waiting {
  readonly since: number;
  readonly begin: () => void;
}

/** A turn is told to have taken at most so long: one huge call says little about the next. */
export function newLine(mostMs: number): Line {
  const waiting: Waiting[] = [];
  let isBusy = false;
  let average: number | undefined;

  const next = (): void => {
    const first = waiting.shift();
    isBusy = first !== undefined;
    if (!first) return;
    const began = performance.now();
    first.begin();
    // What was begun runs as soon as this returns; this comes after it, and after whatever was ready to be read.
    setImmediate(() => {
      const took = Math.min(performance.now() - began, mostMs);
      average = average === undefined ? took : average + LATEST * (took - average);
      next();
    });
  };
  return {
    turn: () =>
      new Promise((begin) => {
        waiting.push({ since: performance.now(), begin });
        if (!isBusy) next();
      }),
    turnMs: () => average ?? 0,
    waitedMs: () => (waiting[0] ? performance.now() - waiting[0].since : 0),
  };
}
