import type { Logger } from 'pino';
import type { Store } from '../../store/store.js';
import type { Lifecycle } from './lifecycle.js';
import type { Ports } from './ports.js';

export interface StopParts {
  readonly lifecycle: Lifecycle;
  readonly ports: Ports;
  /** Requests worked on, what comes after an answer included. */
  readonly inProgress: () => number;
  readonly store: Pick<Store, 'close'>;
  readonly drainS: number;
  readonly log: Logger;
  /** Ends whatever else goes on, before the store is closed. */
  readonly ends: readonly (() => void | Promise<void>)[];
}

/** Calls on their way get this long to be answered, and then their records to be kept. */
const ANSWERS_WITHIN_MS = 15_000;
const WORK_WITHIN_MS = 5000;
const LOOK_EVERY_MS = 10;

/**
 * Ends the service so that nothing that was answered is lost: it says that it is not ready, goes on answering for as long
 * as whoever sends calls may need to notice, takes no more connections, answers what is on its way, and keeps what is
 * waiting to be kept.
 */
export function gracefulStop(parts: StopParts): () => Promise<void> {
  let stopped: Promise<void> | undefined;
  return () => (stopped ??= stop(parts));
}

async function stop(parts: StopParts): Promise<void> {
  const { lifecycle, ports, store, drainS, log, ends } = parts;
  lifecycle.beginStopping();
  log.info({ drainS }, 'stopping');
  if (drainS > 0) await pause(drainS * 1000);
  const came = await ports.calls.close(ANSWERS_WITHIN_MS);
  await untilIdle(parts.inProgress);
  for (const end of ends) await end();
  await store.close();
  // Whoever watches is told to the end that it is not ready.
  await ports.operations?.close(0);
  log.info({ cutOff: came === 'cut-off', unfinished: parts.inProgress() }, 'stopped');
}

async function untilIdle(inProgress: () => number): Promise<void> {
  const end = performance.now() + WORK_WITHIN_MS;
  while (inProgress() > 0 && performance.now() < end) await pause(LOOK_EVERY_MS);
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}
