/** What signals do to a service. */
export interface Signalled {
  readonly stop: () => Promise<void>;
  readonly reload: () => Promise<unknown>;
}

/**
 * SIGTERM and SIGINT end the service once its calls are answered and kept; a second one ends it at once. SIGHUP loads
 * rulebook and site anew.
 */
export function followSignals(service: Signalled, exit: (code: number) => void = endProcess): void {
  let stopping = false;
  const stop = (): void => {
    if (stopping) {
      exit(1);
      return;
    }
    stopping = true;
    service.stop().then(
      () => exit(0),
      () => exit(1),
    );
  };
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, stop);
  process.on('SIGHUP', () => void service.reload());
}

function endProcess(code: number): void {
  process.exit(code);
}
