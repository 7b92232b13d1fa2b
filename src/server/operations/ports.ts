import { createApp } from '../app.js';
import type { ServiceParts } from '../app.js';
import { listen } from './listen.js';
import type { Listener } from './listen.js';
import { operationsApp } from './operations-app.js';

/** The ports of one service: calls, and where operators have one of their own, health and counts. */
export interface Ports {
  readonly calls: Listener;
  readonly operations?: Listener;
}

/** Opens both ports or none. */
export async function openPorts(parts: ServiceParts): Promise<Ports> {
  const { operationsHost: host, operationsPort: port, ...config } = parts.config;
  const calls = await listen(createApp(parts), config);
  if (port === undefined) return { calls };
  try {
    return { calls, operations: await listen(operationsApp(parts), { host, port }) };
  } catch (error) {
    await calls.close(0);
    throw error;
  }
}
