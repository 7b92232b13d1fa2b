import { fileURLToPath } from 'node:url';
import type { Logger } from 'pino';
import { newPseudonyms } from '../store/pseudonym.js';
import type { ServiceStore } from '../store/store.js';
import { openThreadedStore } from '../store/threaded-store.js';
import type { ServiceParts } from './app.js';
import { loadClients } from './auth/clients-file.js';
import type { Client } from './auth/clients-file.js';
import type { Config } from './config.js';
import { newRecordReader } from './fallback/record-reader.js';
import { newAdmission } from './operations/admission.js';
import { gracefulStop } from './operations/graceful-stop.js';
import { keysOf } from './operations/keys.js';
import type { Keys } from './operations/keys.js';
import { openKnowledge } from './operations/knowledge.js';
import type { Knowledge } from './operations/knowledge.js';
import { newLifecycle } from './operations/lifecycle.js';
import { loadInstallation } from './operations/load-installation.js';
import { newLogger } from './operations/logger.js';
import { newMetrics } from './operations/metrics.js';
import type { Metrics } from './operations/metrics.js';
import { openPorts } from './operations/ports.js';
import { pruneHourly } from './operations/prune-timer.js';
import { newReadiness } from './operations/readiness.js';
import { storeSettings } from './operations/store-settings.js';
import { tellKnowledge } from './operations/tell-knowledge.js';
import { loadCandidate } from './shadow/load-candidate.js';
import type { Candidate } from './shadow/load-candidate.js';
import { startShadow } from './shadow/shadow.js';

/** Version of the engine; written into every evaluation. */
export const ENGINE_VERSION = '0.2.0';

/** The rulebook shipped with this package, from `src/server` and from `dist/server` alike. */
export const SHIPPED_RULES = fileURLToPath(new URL('../../rules', import.meta.url));

export interface RunningService {
  readonly url: string;
  /** Where health, readiness and counts are told to operators, when they have a port of their own. */
  readonly operationsUrl?: string;
  /** Answers what is on its way, keeps what is to be kept, and ends. */
  readonly stop: () => Promise<void>;
  /** Loads rulebook and site anew, as a whole or not at all. */
  readonly reload: () => Promise<'taken' | 'refused'>;
}

/**
 * Checks settings, rulebook, site and store, and only then opens the port and serves until stopped. Throws with every
 * fault found, each with the setting it came through.
 */
export async function startService(
  config: Config,
  log: Logger = newLogger(config),
  openStore: typeof openThreadedStore = openThreadedStore,
): Promise<RunningService> {
  const metrics = newMetrics();
  metrics.watchProcess();
  const clients = config.clients === undefined ? [] : loadClients(config.clients);
  const knowledge = await openKnowledge({
    load: () =>
      loadInstallation({ config, clients, shippedRules: SHIPPED_RULES, engineVersion: ENGINE_VERSION }),
    log,
    metrics,
    onChange: (installation) => tellKnowledge(installation, config, { log, now }),
  });
  const candidate = config.candidate === undefined ? undefined : loadCandidate(config.candidate);
  const keys = keysOf(config, log);
  const store = await openStore(storeSettings(config, keys, log), {
    onEnded: (failure) => log.error({ failure }, 'the store ended by itself, and is opened anew'),
  });
  try {
    return await open({
      config,
      log,
      metrics,
      clients,
      knowledge,
      keys,
      store,
      ...(candidate && { candidate }),
    });
  } catch (error) {
    await store.close();
    throw error;
  }
}

/** The one clock of the service. */
function now(): Date {
  return new Date();
}

interface Opened {
  readonly config: Config;
  readonly log: Logger;
  readonly metrics: Metrics;
  readonly clients: readonly Client[];
  readonly knowledge: Knowledge;
  readonly keys: Keys;
  readonly store: ServiceStore;
  readonly candidate?: Candidate;
}

/** Set once the port is open: links of cards lead there when no public URL is set. */
interface Listening {
  url?: string;
}

async function open(opened: Opened): Promise<RunningService> {
  const { config, log, metrics, knowledge, store, candidate } = opened;
  const shadow = candidate && startShadow({ candidate, store, log, onEvent: metrics.shadow });
  const listening: Listening = {};
  const parts = { ...partsOf(opened, listening), ...(shadow && { shadow }) };
  const ports = await openPorts(parts).catch(async (error: unknown) => {
    await shadow?.close();
    throw error;
  });
  const stop = gracefulStop({
    ...parts,
    ports,
    inProgress: parts.admission.inProgress,
    drainS: config.drainS,
    ends: [pruneHourly(store, parts), async () => await shadow?.close()],
  });
  const urls = {
    url: ports.calls.url,
    ...(ports.operations && { operationsUrl: ports.operations.url }),
  };
  listening.url = urls.url;
  log.info(
    { ...urls, mode: config.mode },
    config.mode === 'development' ? 'serving; development mode, callers are not authenticated' : 'serving',
  );
  return { ...urls, stop, reload: knowledge.reload };
}

function partsOf(
  { config, log, metrics, clients, knowledge, keys, store }: Opened,
  listening: Listening,
): ServiceParts {
  const knows = {
    installation: knowledge.inForce,
    engineVersion: ENGINE_VERSION,
    store,
    lifecycle: newLifecycle(),
  };
  return {
    ...knows,
    config,
    log,
    now,
    pseudonyms: newPseudonyms(keys.pseudonym),
    recordReader: newRecordReader({ allowed: config.fhirServers, budgetMs: config.fhirBudgetMs, log }),
    metrics,
    clients,
    admission: newAdmission(config, metrics),
    readiness: newReadiness(knows),
    listeningAt: () => listening.url,
  };
}
