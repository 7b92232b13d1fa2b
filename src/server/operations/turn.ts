/**
 * How long the service has been busy with what came together. One process answers one call after another, and what has
 * come in the meantime waits unseen until it is through with them: a call that is only looked at late in such a turn has
 * waited for at least as long, and one let in then makes the next turn late as well.
 */
export interface Turn {
  /** Milliseconds since the first call of this turn was looked at; 0 for the first. */
  readonly busyMs: () => number;
}

export function newTurn(): Turn {
  let began: number | undefined;
  return {
    busyMs: () => {
      const now = performance.now();
      if (began !== undefined) return now - began;
      began = now;
      // Runs when everything that was ready has been looked at, and before anything new is.
      setImmediate(() => {
        began = undefined;
      });
      return 0;
    },
  };
}
