import { generateKeySync } from 'node:crypto';
import type { KeyObject } from 'node:crypto';
import type { Server } from 'node:http';
import { fileURLToPath } from 'node:url';
import { pino } from 'pino';
import type { Logger } from 'pino';
import { COMPUTATION_IDS, newAdvisor } from '../advice/index.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
import { loadSite } from '../rulebook-files/read-site.js';
import { newRecordReader } from './fallback/record-reader.js';
import { openStore } from '../store/open-store.js';
import { newPseudonyms } from '../store/pseudonym.js';
import { createApp } from './app.js';
import type { Config } from './config.js';

/** Version of the engine; written into every evaluation. */
export const ENGINE_VERSION = '0.1.0';

/** The rulebook shipped with this package, from `src/server` and from `dist/server` alike. */
export const SHIPPED_RULES = fileURLToPath(new URL('../../rules', import.meta.url));

export interface RunningService {
  readonly url: string;
  readonly stop: () => Promise<void>;
}

/**
 * Loads the shipped rulebook and serves until stopped. Throws when the rulebook has faults, the store cannot be used or
 * the port is taken.
 */
export async function startService(config: Config, log: Logger = newLogger(config)): Promise<RunningService> {
  const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
  const site = config.site === undefined ? undefined : loadSite(config.site, rulebook);
  const keys = keysOf(config, log);
  const store = await openStore({ path: config.store, contentKey: keys.content });
  const app = createApp({
    advisor: newAdvisor(rulebook),
    config,
    log,
    now: () => new Date(),
    engineVersion: ENGINE_VERSION,
    store,
    pseudonyms: newPseudonyms(keys.pseudonym),
    ...(site && { site }),
    recordReader: newRecordReader({ allowed: config.fhirServers, budgetMs: config.fhirBudgetMs, log }),
  });
  const server = await listen(app, config).catch(async (error: unknown) => {
    await store.close();
    throw error;
  });
  const address = server.address();
  const port = typeof address === 'object' && address !== null ? address.port : config.port;
  const host = config.host.includes(':') ? `[${config.host}]` : config.host;
  const url = `http://${host}:${port}`;
  log.info(
    { url, rulebook: rulebook.about.version, status: rulebook.about.status, mode: 'development' },
    'serving; development mode, callers are not authenticated',
  );
  const stop = async (): Promise<void> => {
    await close(server);
    await store.close();
  };
  return { url, stop };
}

interface Keys {
  readonly pseudonym: KeyObject;
  readonly content: KeyObject;
}

/** Keys that are not set are made for this run; what is kept under them is then a riddle to the next. */
function keysOf({ pseudonymKey, contentKey }: Config, log: Logger): Keys {
  const missing = [
    ...(pseudonymKey ? [] : ['KOTYLE_PSEUDONYM_KEY']),
    ...(contentKey ? [] : ['KOTYLE_CONTENT_KEY']),
  ];
  if (missing.length > 0) {
    log.info(
      { missing },
      'keys made for this run only; acknowledgements, pseudonyms and comments kept now mean nothing to the next run',
    );
  }
  return { pseudonym: pseudonymKey ?? newKey(), content: contentKey ?? newKey() };
}

function newKey(): KeyObject {
  return generateKeySync('hmac', { length: 256 });
}

export function newLogger(config: Config): Logger {
  // The request object is never logged, so there is nothing to redact; the token rule stands for whoever adds it.
  return pino(
    { level: config.logLevel, redact: ['req.headers.authorization'] },
    pino.destination({ dest: 2, sync: false }),
  );
}

function listen(app: ReturnType<typeof createApp>, config: Config): Promise<Server> {
  return new Promise((resolve, reject) => {
    const server = app.listen(config.port, config.host, (error?: Error) => {
      if (error) reject(error);
      else resolve(server);
    });
  });
}

function close(server: Server): Promise<void> {
  return new Promise((resolve, reject) => {
    server.close((error) => {
      if (error) reject(error);
      else resolve();
    });
    server.closeIdleConnections();
  });
}
