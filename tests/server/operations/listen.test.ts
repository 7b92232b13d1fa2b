import { once } from 'node:events';
import { connect } from 'node:net';
import type { Socket } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { listen } from '../../../src/server/operations/listen.js';
import type { ConnectionLimits, Listener } from '../../../src/server/operations/listen.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';

const open: Listener[] = [];
afterEach(async () => {
  await Promise.all(open.splice(0).map(({ close }) => close(0)));
});

async function connected(limits: Partial<ConnectionLimits> = {}): Promise<Socket> {
  const listener = await listen(
    (_request, response) => response.end('{}'),
    { host: '127.0.0.1', port: 0 },
    limits,
  );
  open.push(listener);
  const { hostname, port } = new URL(listener.url);
  const socket = connect(Number(port), hostname);
  await once(socket, 'connect');
  return socket;
}

/** Everything that comes until the connection is closed from the other side. */
async function untilClosed(socket: Socket): Promise<string> {
  let text = '';
  socket.setEncoding('utf8');
  socket.on('data', (chunk: string) => {
    text += chunk;
  });
  socket.on('error', () => undefined);
  await once(socket, 'close');
  return text;
}

/** Insists on a refusal of this status whose body is a valid OperationOutcome. */
function expectRefusal(text: string, status: number): void {
  const [head = '', body = ''] = text.split('\r\n\r\n');
  expect(head).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `));
  expect(head).toMatch(/content-type: application\/fhir\+json/i);
  expect(head).toMatch(/connection: close/i);
  const outcome = JSON.parse(body) as { readonly resourceType: string };
  expect(outcome.resourceType).toBe('OperationOutcome');
  expect(fhirIssues(outcome)).toEqual([]);
}

const HEAD = 'POST / HTTP/1.1\r\nHost: x\r\n';

describe('a connection that is kept busy with nothing', () => {
  const limits = { headersTimeout: 100, requestTimeout: 300, connectionsCheckingInterval: 20 };

  it('[E7] is cut off when the head of a request does not end', async () => {
    const socket = await connected(limits);
    const drip = setInterval(() => socket.write('X-A: b\r\n'), 30);
    socket.write(HEAD);
    expectRefusal(await untilClosed(socket), 408);
    clearInterval(drip);
  });

  it('[E7] is cut off when the body of a request does not end', async () => {
    const listener = await listen(
      (request, response) => request.resume().on('end', () => response.end('{}')),
      { host: '127.0.0.1', port: 0 },
      limits,
    );
    open.push(listener);
    const { hostname, port } = new URL(listener.url);
    const socket = connect(Number(port), hostname);
    const drip = setInterval(() => socket.write('x'), 30);
    socket.write(`${HEAD}Content-Length: 1000\r\n\r\n`);
    expectRefusal(await untilClosed(socket), 408);
    clearInterval(drip);
  });
});

describe('what is no request', () => {
  it('[E7] is refused with 431 when its head is too long', async () => {
    const socket = await connected();
    socket.write(`${HEAD}X-Long: ${'x'.repeat(20_000)}\r\n\r\n`);
    expectRefusal(await untilClosed(socket), 431);
  });

  for (const text of ['hello\r\n\r\n', `${HEAD}Content-Length: many\r\n\r\n`, '\u0016\u0003\u0001\u0002'])
    it(`is refused with 400: ${JSON.stringify(text.slice(0, 12))}`, async () => {
      const socket = await connected();
      socket.write(text);
      expectRefusal(await untilClosed(socket), 400);
    });
});
