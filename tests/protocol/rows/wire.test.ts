import { connect } from 'node:net';
import type { Socket } from 'node:net';
import { pino } from 'pino';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { listen } from '../../../src/server/operations/listen.js';
import type { Listener } from '../../../src/server/operations/listen.js';
import { fhirIssues } from '../../oracles/fhir-validity.js';
import { ORDER_PATH, orderCall, testApp } from '../../server/test-service.js';
import { speakingCall } from './answers.js';

/** What reaches the service beside well-behaved requests, byte by byte over a socket. */

const LIMIT = 64 * 1024;
const lines: string[] = [];
let listener: Listener;
let port: number;

beforeAll(async () => {
  const log = pino({ level: 'trace' }, { write: (line: string) => void lines.push(line) });
  listener = await listen(testApp({ bodyLimitBytes: LIMIT, log }), { host: '127.0.0.1', port: 0 });
  port = Number(new URL(listener.url).port);
});
beforeEach(() => lines.splice(0));
afterAll(async () => {
  await listener.close(1000);
});

function open(): Socket {
  return connect(port, '127.0.0.1').on('error', () => undefined);
}

/** Everything the service says until it closes the connection or enough has come. */
function heard(socket: Socket, isEnough: (text: string) => boolean = () => false): Promise<string> {
  return new Promise((resolve) => {
    let text = '';
    socket.on('data', (bytes: Buffer) => {
      text += bytes.toString('utf8');
      if (!isEnough(text)) return;
      socket.destroy();
      resolve(text);
    });
    socket.on('close', () => resolve(text));
  });
}

async function said(bytes: string): Promise<string> {
  const socket = open();
  const text = heard(socket);
  socket.write(bytes);
  return await text;
}

function post(body: string, headers: readonly string[] = []): string {
  return [
    `POST ${ORDER_PATH} HTTP/1.1`,
    'Host: 127.0.0.1',
    'Content-Type: application/json',
    `Content-Length: ${Buffer.byteLength(body)}`,
    ...headers,
    '',
    body,
  ].join('\r\n');
}

const CALL = JSON.stringify(orderCall());
const CLOSE = 'Connection: close';

/** Insists on a refusal with an OperationOutcome as its body. */
function refusal(text: string, status: number): void {
  expect(text).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `));
  expect(text).toMatch(/content-type: application\/fhir\+json/i);
  const body = JSON.parse(text.slice(text.indexOf('\r\n\r\n') + 4)) as object;
  expect(fhirIssues(body)).toEqual([]);
}

/** The service still answers. */
async function expectAlive(): Promise<void> {
  expect(await said(post(CALL, [CLOSE]))).toMatch(/^HTTP\/1\.1 200 /);
}

describe('bytes that are no request', () => {
  it('[E9] are refused with an OperationOutcome: no HTTP, a broken header, two lengths, a length and chunks', async () => {
    refusal(await said('HELLO\r\n\r\n'), 400);
    refusal(await said(`GET /health HTTP/1.1\r\nHost: x\r\nA header: x\r\n\r\n`), 400);
    refusal(await said(post(CALL, ['Content-Length: 3'])), 400);
    refusal(await said(post(CALL, ['Transfer-Encoding: chunked'])), 400);
    await expectAlive();
  });

  it('[E9] are refused with 431 when headers do not end', async () => {
    refusal(await said(`GET /health HTTP/1.1\r\nHost: x\r\nX-A: ${'a'.repeat(20_000)}\r\n\r\n`), 431);
    const many = Array.from({ length: 3000 }, (_none, index) => `X-${index}: a`).join('\r\n');
    refusal(await said(`GET /health HTTP/1.1\r\nHost: x\r\n${many}\r\n\r\n`), 431);
    await expectAlive();
  });

  it('are not answered on a connection that was answered before: it is closed', async () => {
    const socket = open();
    let isFirst = true;
    const text = heard(socket, (so) => {
      if (isFirst && so.includes('{"cards":[]}')) {
        isFirst = false;
        socket.write('HELLO\r\n\r\n');
      }
      return false;
    });
    socket.write(post(CALL));
    expect((await text).match(/HTTP\/1\.1 \d{3}/g)).toEqual(['HTTP/1.1 200']);
  });
});

describe('an expectation', () => {
  it('to go on is met, and any other is refused with 417', async () => {
    const text = await said(post(CALL, ['Expect: 100-continue', CLOSE]));
    expect(text).toMatch(/^HTTP\/1\.1 100 Continue\r\n\r\nHTTP\/1\.1 200 /);
    refusal(await said(post(CALL, ['Expect: a-miracle'])), 417);
  });
});

describe('a body', () => {
  const CHUNKED = [
    `POST ${ORDER_PATH} HTTP/1.1`,
    'Host: 127.0.0.1',
    'Content-Type: application/json',
    'Transfer-Encoding: chunked',
  ];
  const chunk = (text: string): string => `${Buffer.byteLength(text).toString(16)}\r\n${text}\r\n`;

  it('in chunks is read', async () => {
    const chunks = [CALL.slice(0, 100), CALL.slice(100)].map(chunk).join('');
    expect(await said(`${[...CHUNKED, CLOSE, '', ''].join('\r\n')}${chunks}0\r\n\r\n`)).toMatch(
      /^HTTP\/1\.1 200 /,
    );
  });

  it('[E7] in chunks without end is cut off with 413, and the connection closed', async () => {
    const socket = open();
    const text = heard(socket);
    socket.write([...CHUNKED, '', ''].join('\r\n'));
    const piece = chunk(' '.repeat(8192));
    // A hundred times the limit and more would be taken if nobody stopped it.
    for (let sent = 0; !socket.destroyed && sent < 2000; sent += 1)
      if (!socket.write(piece))
        await new Promise<void>((resolve) => socket.once('drain', resolve).once('close', resolve));
    refusal(await text, 413);
    await expectAlive();
  });

  it('that never comes whole leaves nothing behind: no answer, no error of ours, and the next call is answered', async () => {
    for (const size of [0, 1, 100, CALL.length - 1]) {
      const socket = open();
      socket.write(post(CALL).slice(0, -(CALL.length - size)));
      await new Promise((resolve) => setTimeout(resolve, 20));
      socket.destroy();
    }
    await expectAlive();
    expect(lines.filter((line) => /unexpected|"level":50/.test(line))).toEqual([]);
  });
});

describe('requests one behind the other on one connection', () => {
  it('are answered each, in their order', async () => {
    const [, speaks] = speakingCall('order-sign');
    const talk = JSON.stringify(speaks);
    const text = await said(post(talk) + post('{') + post(CALL, [CLOSE]));
    const statuses = [...text.matchAll(/HTTP\/1\.1 (\d{3}) /g)].map(([, status]) => status);
    expect(statuses).toEqual(['200', '400', '200']);
    expect(text.indexOf('"summary"')).toBeLessThan(text.indexOf('OperationOutcome'));
  });
});

describe('a client that is gone before the answer', () => {
  it('is no fault of the service', async () => {
    for (let round = 0; round < 10; round += 1) {
      const socket = open();
      await new Promise<void>((resolve) => socket.write(post(CALL), () => resolve()));
      socket.destroy();
    }
    await expectAlive();
    expect(lines.filter((line) => /unexpected|"level":50/.test(line))).toEqual([]);
  });
});
