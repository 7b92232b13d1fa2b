import type { Server } from 'node:http';
import { fileURLToPath } from 'node:url';
import { pino } from 'pino';
import type { Logger } from 'pino';
import { COMPUTATION_IDS, newAdvisor } from '../advice/index.js';
import { loadRulebook } from '../rulebook-files/load-rulebook.js';
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

/** Loads the shipped rulebook and serves until stopped. Throws when the rulebook has faults or the port is taken. */
export async function startService(config: Config, log: Logger = newLogger(config)): Promise<RunningService> {
  const rulebook = loadRulebook(SHIPPED_RULES, COMPUTATION_IDS);
  const app = createApp({
    advisor: newAdvisor(rulebook),
    config,
    log,
    now: () => new Date(),
    engineVersion: ENGINE_VERSION,
  });
  const server = await listen(app, config);
  const address = server.address();
  const port = typeof address === 'object' && address !== null ? address.port : config.port;
  const host = config.host.includes(':') ? `[${config.host}]` : config.host;
  const url = `http://${host}:${port}`;
  log.info(
    { url, rulebook: rulebook.about.version, status: rulebook.about.status, mode: 'development' },
    'serving; development mode, callers are not authenticated',
  );
  return { url, stop: () => close(server) };
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
