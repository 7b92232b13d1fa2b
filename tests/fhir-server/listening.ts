import { createServer } from 'node:http';
import type { RequestListener } from 'node:http';
import type { AddressInfo } from 'node:net';

export interface SeenRequest {
  readonly method: string;
  /** Path and query, as sent. */
  readonly url: string;
  readonly authorization: string | undefined;
  /** The origin that was asked. */
  readonly origin: string;
}

export interface Listening {
  readonly origin: string;
  /** Everything asked so far, first to last. */
  readonly requests: readonly SeenRequest[];
  readonly stop: () => Promise<void>;
}

/** Listens on a free port of this machine and keeps a list of what was asked. */
export async function listen(answer: (origin: string) => RequestListener): Promise<Listening> {
  const requests: SeenRequest[] = [];
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const origin = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const listener = answer(origin);
  server.on('request', (request, response) => {
    const { method = '', url = '', headers } = request;
    requests.push({ method, url, authorization: headers.authorization, origin });
    listener(request, response);
  });
  const stop = (): Promise<void> =>
    new Promise((resolve) => {
      server.close(() => resolve());
      server.closeAllConnections();
    });
  return { origin, requests, stop };
}
