import type { Logger } from 'pino';
import type { Installation } from '../installation.js';
import type { Metrics } from './metrics.js';

/** The knowledge in force, which can be replaced as a whole while calls are answered. */
export interface Knowledge {
  /** What is in force at this moment; whoever answers a call asks once. */
  readonly inForce: () => Installation;
  /**
   * Loads everything anew. Any fault leaves what is in force as it is, and every fault is logged; otherwise the next
   * call is answered from the new, and those on their way end with the old. Never rejects.
   */
  readonly reload: () => Promise<'taken' | 'refused'>;
}

export interface KnowledgeParts {
  /** Reads and checks rulebook and site; rejects with every fault. */
  readonly load: () => Promise<Installation>;
  readonly log: Logger;
  readonly metrics: Pick<Metrics, 'reloaded'>;
  /** Says what has come into force. */
  readonly onChange: (installation: Installation) => void;
}

/** Loads the knowledge; rejects when there is none without a fault. */
export async function openKnowledge({ load, log, metrics, onChange }: KnowledgeParts): Promise<Knowledge> {
  let inForce = await load();
  let working: Promise<'taken' | 'refused'> | undefined;
  const attempt = async (): Promise<'taken' | 'refused'> => {
    try {
      const next = await load();
      inForce = next;
      onChange(next);
      return 'taken';
    } catch (error) {
      const faults = error instanceof Error ? error.message : 'unknown';
      log.error({ faults }, 'rulebook and site were not loaded anew; those in force stay');
      return 'refused';
    }
  };
  onChange(inForce);
  return {
    inForce: () => inForce,
    reload: async () => {
      // Two at a time could end in the older one being in force.
      working ??= attempt().finally(() => {
        working = undefined;
      });
      const came = await working;
      metrics.reloaded(came);
      return came;
    },
  };
}
