/** Runs tasks in the order they come, no more than `most` at a time. */
export type Lanes = <Value>(task: () => Promise<Value>) => Promise<Value>;

export function newLanes(most: number): Lanes {
  let running = 0;
  const waiting: (() => void)[] = [];
  return async (task) => {
    if (running < most) running += 1;
    else await new Promise<void>((resolve) => waiting.push(resolve));
    try {
      return await task();
    } finally {
      // A lane is handed on, not freed, so that nobody can slip in between.
      const next = waiting.shift();
      if (next) next();
      else running -= 1;
    }
  };
}
