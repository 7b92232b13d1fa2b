import type { Logger } from 'pino';
import type { Store } from '../../store/store.js';
import { failureOf } from '../store-failure.js';

const HOUR_MS = 60 * 60 * 1000;

/**
 * Removes what is past its time, now and every hour, until it is told to stop. What fails is logged and tried again in
 * an hour; the process may end at any moment of it.
 */
export function pruneHourly(
  store: Pick<Store, 'prune'>,
  { now, log }: { readonly now: () => Date; readonly log: Logger },
): () => void {
  const prune = async (): Promise<void> => {
    try {
      const pruned = await store.prune(now());
      const isSome = Object.values(pruned).some((count) => count > 0);
      if (isSome) log.info({ pruned }, 'what was past its time is removed');
    } catch (error) {
      log.error(failureOf(error), 'what is past its time could not be removed');
    }
  };
  void prune();
  const timer = setInterval(() => void prune(), HOUR_MS);
  timer.unref();
  return () => clearInterval(timer);
}
