import { pino } from 'pino';
import type { Logger } from 'pino';
import type { Config } from '../config.js';

/** The log, as lines of JSON on standard error. */
export function newLogger({ logLevel }: Pick<Config, 'logLevel'>): Logger {
  // The request object is never logged, so there is nothing to redact; the token rule stands for whoever adds it.
  return pino(
    { level: logLevel, redact: ['req.headers.authorization'] },
    pino.destination({ dest: 2, sync: false }),
  );
}
