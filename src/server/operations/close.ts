import type { Server, ServerResponse } from 'node:http';
import type { Socket } from 'node:net';

/** How often connections that have just become idle are looked for. */
const SWEEP_MS = 25;
/** A connection that was opened and has not yet sent a request gets this long to do so. */
const UNUSED_MS = 500;

/** Ends a server: takes no new connections, and resolves when those open are done, or cut off after so long. */
export type CloseServer = (withinMs: number) => Promise<'done' | 'cut-off'>;

/**
 * Watches the connections of a server from its start, so that it can be ended without waiting for those that ask
 * nothing: kept after an answer, or opened in advance by a proxy and never used.
 */
export function closing(server: Server): CloseServer {
  const unused = new Set<Socket>();
  server.on('connection', (socket) => {
    unused.add(socket);
    socket.once('close', () => unused.delete(socket));
  });
  server.on('request', (request, response: ServerResponse) => {
    unused.delete(request.socket);
    response.once('close', () => {
      if (!request.socket.destroyed) unused.add(request.socket);
    });
  });
  return async (withinMs) => {
    let came: 'done' | 'cut-off' = 'done';
    const cutOff = setTimeout(() => {
      came = 'cut-off';
      server.closeAllConnections();
    }, withinMs);
    const drop = setTimeout(
      () => {
        for (const socket of unused) socket.destroy();
      },
      Math.min(UNUSED_MS, withinMs),
    );
    const sweep = setInterval(() => server.closeIdleConnections(), SWEEP_MS);
    await new Promise<void>((resolve) => {
      server.close(() => resolve());
      server.closeIdleConnections();
    });
    for (const timer of [cutOff, drop, sweep]) clearTimeout(timer);
    return came;
  };
}
