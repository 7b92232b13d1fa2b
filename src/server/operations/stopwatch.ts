/** What a call spends its time on: reading the request and waiting for its turn, reading the record system, advising, keeping the record. */
export type Phase = 'read' | 'fetch' | 'advise' | 'store';

/** Times the phases of one call, one after the other, in seconds. */
export interface Stopwatch {
  /** Says that what went on until now was this phase, and tells how long it took. */
  readonly lap: (phase: Phase) => number;
  /** The phases so far. */
  readonly phases: ReadonlyMap<Phase, number>;
  /** Since the start. */
  readonly seconds: () => number;
}

/** Starts at a moment of `performance.now()`, the present one unless another is given. */
export function newStopwatch(started: number = performance.now()): Stopwatch {
  const phases = new Map<Phase, number>();
  let last = started;
  return {
    lap: (phase) => {
      const now = performance.now();
      const seconds = (now - last) / 1000;
      phases.set(phase, seconds);
      last = now;
      return seconds;
    },
    phases,
    seconds: () => (performance.now() - started) / 1000,
  };
}
