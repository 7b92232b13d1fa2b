import { createServer } from 'node:http';
import type { IncomingMessage, RequestListener, Server, ServerResponse } from 'node:http';
import type { Socket } from 'node:net';
import { issue } from '../../base/result.js';
import type { Issue } from '../../base/result.js';
import { operationOutcome } from '../../fhir/operation-outcome.js';
import { closing } from './close.js';
import type { CloseServer } from './close.js';

/** Where to listen; port 0 takes a free one. */
export interface Address {
  readonly host: string;
  readonly port: number;
}

/** All in milliseconds but the size of the head, which is in bytes. */
export interface ConnectionLimits {
  /** How long the head of a request may take, and the whole of it. */
  readonly headersTimeout: number;
  readonly requestTimeout: number;
  readonly keepAliveTimeout: number;
  /** How often both are looked at. */
  readonly connectionsCheckingInterval: number;
  readonly maxHeaderSize: number;
}

/**
 * Limits of one connection. A client that sends its head or its request in small pieces to keep a connection busy is cut
 * off; a kept connection outlives the sixty seconds that proxies commonly keep theirs, so that the proxy closes first.
 */
const CONNECTION: ConnectionLimits = {
  headersTimeout: 10_000,
  requestTimeout: 30_000,
  keepAliveTimeout: 65_000,
  connectionsCheckingInterval: 2000,
  maxHeaderSize: 16 * 1024,
};
const MOST_HEADERS = 100;
const MOST_CONNECTIONS = 2000;

/** An open port. */
export interface Listener {
  /** Where it is reached on this machine, with the port it got. */
  readonly url: string;
  readonly close: CloseServer;
}

/** Listens, and resolves once the port is open; rejects when it cannot be had. */
export async function listen(
  answer: RequestListener,
  address: Address,
  limits: Partial<ConnectionLimits> = {},
): Promise<Listener> {
  const server = createServer({ ...CONNECTION, ...limits }, answer);
  server.maxHeadersCount = MOST_HEADERS;
  server.maxConnections = MOST_CONNECTIONS;
  server.on('clientError', answerUnreadable);
  server.on('checkExpectation', refuseExpectation);
  const close = closing(server);
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(address.port, address.host, () => {
      server.off('error', reject);
      resolve();
    });
  });
  return { url: urlOf(server, address), close };
}

function urlOf(server: Server, { host, port }: Address): string {
  const address = server.address();
  const taken = typeof address === 'object' && address !== null ? address.port : port;
  return `http://${host.includes(':') ? `[${host}]` : host}:${taken}`;
}

/** What is no HTTP, or too much or too slow of it, never becomes a request: it is answered on the bare connection. */
function answerUnreadable(error: NodeJS.ErrnoException, socket: Socket): void {
  // After a first answer on this connection nothing can be said without breaking into the next.
  if (error.code === 'ECONNRESET' || !socket.writable || socket.bytesWritten > 0) {
    socket.destroy();
    return;
  }
  const { status, issues } = refusal(error.code);
  const body = JSON.stringify(operationOutcome(issues));
  socket.end(
    `HTTP/1.1 ${status}\r\nConnection: close\r\nContent-Type: application/fhir+json; charset=utf-8\r\nContent-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`,
  );
}

/** Left to itself, Node refuses what nobody can meet without a body. */
function refuseExpectation(_request: IncomingMessage, response: ServerResponse): void {
  const problem = issue('wrong-value', '', 'expected no Expect but 100-continue, found another');
  const body = JSON.stringify(operationOutcome([problem]));
  response.writeHead(417, {
    'Content-Type': 'application/fhir+json; charset=utf-8',
    'Content-Length': Buffer.byteLength(body),
    Connection: 'close',
  });
  response.end(body);
}

function refusal(code: string | undefined): { readonly status: string; readonly issues: readonly Issue[] } {
  switch (code) {
    case 'ERR_HTTP_REQUEST_TIMEOUT':
      return {
        status: '408 Request Timeout',
        issues: [issue('too-slow', '', 'expected the whole request, found part of it')],
      };
    case 'HPE_HEADER_OVERFLOW':
      return {
        status: '431 Request Header Fields Too Large',
        issues: [issue('too-large', '', 'expected a smaller head')],
      };
    default:
      return {
        status: '400 Bad Request',
        issues: [issue('wrong-value', '', 'expected an HTTP request, found something else')],
      };
  }
}
