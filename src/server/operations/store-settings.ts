import type { Logger } from 'pino';
import type { StoreSettings } from '../../store/open-store.js';
import type { Config } from '../config.js';
import type { Keys } from './keys.js';

/** How the store is opened. In development a database that may lose commits is pointed out, in production refused. */
export function storeSettings(config: Config, keys: Keys, log: Logger): StoreSettings {
  const { mode, store: path, keepContentHours, keepRecordDays } = config;
  const warn = (faults: readonly string[]): void =>
    log.warn({ faults }, 'the database may lose what it commits');
  return {
    path,
    contentKey: keys.content,
    keepContentHours,
    keepRecordDays,
    ...(mode === 'development' && { warn }),
  };
}
