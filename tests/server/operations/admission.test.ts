import express from 'express';
import { once } from 'node:events';
import type { Server } from 'node:http';
import { connect } from 'node:net';
import type { AddressInfo, Socket } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import type { Advisor } from '../../../src/advice/index.js';
import { newAllowance } from '../../../src/server/operations/allowance.js';
import type { Allowance } from '../../../src/server/operations/allowance.js';
import { newLine } from '../../../src/server/operations/line.js';
import { advisor } from '../../advice/patients.js';
import { orderCall, ORDER_PATH, testApp } from '../test-service.js';
import { shippedAdvisorThatWaits } from './waiting-advisor.js';

const servers: Server[] = [];
afterEach(() => {
  for (const server of servers.splice(0)) {
    server.closeAllConnections();
    server.close();
  }
});

async function serve(app: express.Express): Promise<string> {
  const server = app.listen(0, '127.0.0.1');
  servers.push(server);
  await once(server, 'listening');
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

const JSON_HEADERS = { 'Content-Type': 'application/json' };

describe('while as many calls are worked on as may be', () => {
  it('[E8] another is turned away with 503, Retry-After and an OperationOutcome, and those let in are answered', async () => {
    const waiting = shippedAdvisorThatWaits();
    const url = await serve(testApp({ advisor: waiting.advisor, mostAtOnce: 2 }));
    const send = (): Promise<Response> =>
      fetch(`${url}${ORDER_PATH}`, {
        method: 'POST',
        headers: JSON_HEADERS,
        body: JSON.stringify(orderCall()),
      });
    const admitted = [send(), send()];
    await waiting.untilAsked(2);
    const excess = await send();
    expect(excess.status).toBe(503);
    expect(excess.headers.get('retry-after')).toMatch(/^[1-9]\d*$/);
    const outcome = (await excess.json()) as { readonly resourceType: string };
    expect(outcome.resourceType).toBe('OperationOutcome');
    waiting.letGo();
    expect((await Promise.all(admitted)).map(({ status }) => status)).toEqual([200, 200]);
    expect((await untilAdmitted(send)).status).toBe(200);
  });

  it('feedback, discovery and health are answered all the same', async () => {
    const waiting = shippedAdvisorThatWaits();
    const url = await serve(testApp({ advisor: waiting.advisor, mostAtOnce: 1 }));
    const call = fetch(`${url}${ORDER_PATH}`, {
      method: 'POST',
      headers: JSON_HEADERS,
      body: JSON.stringify(orderCall()),
    });
    await waiting.untilAsked(1);
    const item = {
      card: '3f2b8f0e-6a3c-4d63-9c1e-5b8a7d2f4e11',
      outcome: 'overridden',
      outcomeTimestamp: '2026-11-24T10:00:00Z',
    };
    const feedback = await fetch(`${url}${ORDER_PATH}/feedback`, {
      method: 'POST',
      headers: JSON_HEADERS,
      body: JSON.stringify({ feedback: [item] }),
    });
    expect(feedback.status).toBe(200);
    expect((await fetch(`${url}/cds-services`)).status).toBe(200);
    expect((await fetch(`${url}/health`)).status).toBe(200);
    waiting.letGo();
    expect((await call).status).toBe(200);
  });

  it('a client that goes away makes room for another', async () => {
    const waiting = shippedAdvisorThatWaits();
    const url = await serve(testApp({ advisor: waiting.advisor, mostAtOnce: 1 }));
    const aborting = new AbortController();
    const body = JSON.stringify(orderCall());
    const gone = fetch(`${url}${ORDER_PATH}`, {
      method: 'POST',
      headers: JSON_HEADERS,
      body,
      signal: aborting.signal,
    });
    await waiting.untilAsked(1);
    aborting.abort();
    await expect(gone).rejects.toThrow();
    waiting.letGo();
    const next = await untilAdmitted(() =>
      fetch(`${url}${ORDER_PATH}`, { method: 'POST', headers: JSON_HEADERS, body }),
    );
    expect(next.status).toBe(200);
  });
});

/** Asks again while it is turned away, a few times: the end of a connection takes a moment to be noticed. */
async function untilAdmitted(send: () => Promise<Response>): Promise<Response> {
  for (let tries = 0; tries < 100; tries += 1) {
    const response = await send();
    if (response.status !== 503) return response;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  return await send();
}

describe('a body that does not come', () => {
  function slowApp(allowance: Allowance): express.Express {
    const app = express();
    app.post('/call', allowance.admit, express.json(), (_request, response) => {
      response.json({});
    });
    return app;
  }

  it('[E7] is waited for a limited time, then refused with 408, and its place is free again', async () => {
    const allowance = newAllowance({
      isFull: (unanswered) => unanswered >= 1,
      onTurnedAway: () => undefined,
      bodyWithinMs: 50,
    });
    const url = new URL(await serve(slowApp(allowance)));
    const socket = connect(Number(url.port), url.hostname);
    socket.write(
      'POST /call HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{"a":',
    );
    const [chunk] = (await once(socket, 'data')) as [Buffer];
    expect(chunk.toString()).toMatch(/^HTTP\/1\.1 408 /);
    expect(chunk.toString()).toMatch(/Connection: close/i);
    await once(socket, 'close');
    const next = await untilAdmitted(() =>
      fetch(`${url.origin}/call`, { method: 'POST', headers: JSON_HEADERS, body: '{}' }),
    );
    expect(next.status).toBe(200);
    expect(allowance.unanswered()).toBe(0);
  });
});

describe('a client that goes away while its call waits in line', () => {
  it('is answered nothing: nobody begins its call, and its place is free', async () => {
    let begin = (): void => undefined;
    const turn = new Promise<void>((resolve) => {
      begin = resolve;
    });
    const allowance = newAllowance({ isFull: () => false, onTurnedAway: () => undefined, turn: () => turn });
    const begun: string[] = [];
    const app = express();
    const handler = allowance.working((request, response) => {
      begun.push(request.path);
      response.end();
      return Promise.resolve();
    });
    app.post('/:name', allowance.admit, handler);
    const url = new URL(await serve(app));
    const post = (path: string): string => `POST ${path} HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n`;
    const [gone, stays] = [await connectedTo(url), await connectedTo(url)];
    gone.write(post('/gone'));
    stays.write(post('/stays'));
    await expect.poll(() => allowance.waiting()).toBe(2);
    gone.destroy();
    await expect.poll(() => allowance.waiting()).toBe(1);
    begin();
    expect(await statusLine(stays)).toBe(200);
    expect(begun).toEqual(['/stays']);
    await expect.poll(() => allowance.unfinished()).toBe(0);
    stays.destroy();
  });
});

describe('calls that come together', () => {
  it('[E8] wait for a limited time; those that would wait longer are turned away, and the next is not', async () => {
    const slow: Advisor['decide'] = async (facts) => {
      spin(20);
      return await advisor.decide(facts);
    };
    const url = new URL(await serve(testApp({ busyMs: 10, advisor: { ...advisor, decide: slow } })));
    const sockets = await Promise.all(Array.from({ length: 6 }, () => connected(url)));
    const body = JSON.stringify(orderCall());
    // How long a call takes is known from those before.
    const first = await fetch(`${url.origin}${ORDER_PATH}`, { method: 'POST', headers: JSON_HEADERS, body });
    expect(first.status).toBe(200);
    const text = `POST ${ORDER_PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`;
    const answers = Promise.all(sockets.map(statusLine));
    // All of them are ready when the service looks the next time.
    for (const socket of sockets) socket.write(text);
    const statuses = await answers;
    expect(statuses.filter((status) => status === 200).length).toBeGreaterThanOrEqual(1);
    expect(statuses.filter((status) => status === 503).length).toBeGreaterThanOrEqual(1);
    expect(statuses.filter((status) => ![200, 503].includes(status))).toEqual([]);
    const alone = await fetch(`${url.origin}${ORDER_PATH}`, { method: 'POST', headers: JSON_HEADERS, body });
    expect(alone.status).toBe(200);
    for (const socket of sockets) socket.destroy();
  });

  it('begin one after another in the order in which they came, and leave room for others in between', async () => {
    const line = newLine(100);
    const begun: string[] = [];
    const calls = ['a', 'b', 'c'].map(async (name) => {
      await line.turn();
      begun.push(name);
      spin(5);
    });
    // The first begins at once; of the others one in each turn of the event loop, whatever else there is to do.
    const beside: number[] = [];
    for (let turns = 0; turns < 3; turns += 1) {
      await new Promise(setImmediate);
      beside.push(begun.length);
    }
    await Promise.all(calls);
    expect(begun).toEqual(['a', 'b', 'c']);
    expect(beside).toEqual([2, 3, 3]);
  });

  it('tell how long a turn takes and how long the first in the line has waited', async () => {
    const line = newLine(100);
    expect([line.turnMs(), line.waitedMs()]).toEqual([0, 0]);
    const first = line.turn().then(() => spin(20));
    const second = line.turn();
    spin(5);
    expect(line.waitedMs()).toBeGreaterThanOrEqual(4);
    await first;
    await second;
    expect(line.waitedMs()).toBe(0);
    await new Promise((resolve) => setTimeout(resolve, 1));
    expect(line.turnMs()).toBeGreaterThan(4);
    expect(line.turnMs()).toBeLessThanOrEqual(100);
    // A single huge call counts as no more than the longest anybody may wait.
    await line.turn().then(() => spin(300));
    await new Promise((resolve) => setTimeout(resolve, 1));
    expect(line.turnMs()).toBeLessThanOrEqual(100);
  });
});

/** Keeps this process from everything else. */
function spin(ms: number): void {
  const until = performance.now() + ms;
  while (performance.now() < until);
}

async function connectedTo(url: URL): Promise<Socket> {
  const socket = connect(Number(url.port), url.hostname);
  await once(socket, 'connect');
  return socket;
}

async function connected(url: URL): Promise<Socket> {
  const socket = connect(Number(url.port), url.hostname);
  // Answered once, it is known to the service, which then looks at it with all the others.
  socket.write('GET /health HTTP/1.1\r\nHost: x\r\n\r\n');
  expect(await statusLine(socket)).toBe(200);
  return socket;
}

async function statusLine(socket: Socket): Promise<number> {
  const [chunk] = (await once(socket, 'data')) as [Buffer];
  return Number(/^HTTP\/1\.1 (\d+)/.exec(chunk.toString())?.[1]);
}
