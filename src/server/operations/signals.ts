/** What signals do to a service. */
export interface Signalled {
  readonly stop: () => Promise<void>;
  readonly reload: () => Promise<unknown>;
}

/**
 * SIGTERM and SIGINT end the service once its calls are answered and kept; a second one ends it at once. SIGHUP loads
 * rulebook and site anew. Called while the service is still starting, so that there is no moment at which it serves and
 * a signal would end it in the middle of a call; what comes before it serves is done once it does.
 */
export function followSignals(
  starting: Signalled | Promise<Signalled>,
  exit: (code: number) => void = endProcess,
): void {
  const service = Promise.resolve(starting);
  let stopping = false;
  const stop = (): void => {
    if (stopping) {
      exit(1);
      return;
    }
    stopping = true;
    service
      .then(({ stop: end }) => end())
      .then(
        () => exit(0),
        () => exit(1),
      );
  };
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, stop);
  process.on('SIGHUP', () => {
    // One that can't start says so itself.
    service.then(({ reload }) => reload()).catch(() => undefined);
  });
}

function endProcess(code: number): void {
  process.exit(code);
}
