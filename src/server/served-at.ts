import type { ServiceParts } from './app.js';

/**
 * Where clients reach the service: as the operator says, else where it listens. Never what a request's own headers say,
 * which anybody can write. Empty where neither is known.
 */
export function locationOf({ config, listeningAt }: Pick<ServiceParts, 'config' | 'listeningAt'>): {
  readonly publicUrl?: string;
} {
  const publicUrl = config.publicUrl ?? listeningAt?.();
  return publicUrl === undefined ? {} : { publicUrl };
}
