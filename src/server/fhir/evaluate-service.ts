import { SERVICES } from '../../advice/index.js';
import type { Hook, Service } from '../../advice/index.js';

/** The id under which evaluations asked for by `$evaluate` are kept. */
export const EVALUATE_ID = '$evaluate';

/**
 * The service of one hook as `$evaluate` asks it: kept under its own id, with the state the site gave to the service of
 * that hook. So the operation never says what the service would keep to itself.
 */
export function evaluateService(hook: Hook): Service {
  const service = SERVICES.find((one) => one.hook === hook);
  if (!service) throw new TypeError(`no service for ${hook}`);
  return { ...service, id: EVALUATE_ID };
}
