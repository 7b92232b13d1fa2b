import { Writable } from 'node:stream';
import { pino } from 'pino';
import request from 'supertest';
import { describe, expect, it } from 'vitest';
import { orderCall, ORDER_PATH, post, testApp } from '../test-service.js';

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;
const SENT = '0b1f7d8e-52c9-4c57-8a34-7d0f7a9b6e22';

function capture(): { readonly log: pino.Logger; readonly lines: string[] } {
  const lines: string[] = [];
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(chunk.toString('utf8'));
      done();
    },
  });
  return { log: pino({ level: 'info' }, stream), lines };
}

describe('the id of a request', () => {
  it('is the one the client sent, in the answer and in every line of the log', async () => {
    const { log, lines } = capture();
    const headers = { 'Content-Type': 'application/json', 'X-Request-Id': SENT };
    const reply = await post(testApp({ log }), ORDER_PATH, orderCall(), headers);
    expect(reply.headers['x-request-id']).toBe(SENT);
    expect(lines.length).toBeGreaterThan(0);
    for (const line of lines) expect(JSON.parse(line)).toMatchObject({ request: SENT });
  });

  it('is made where the client sent none, another for every request', async () => {
    const app = testApp();
    const first = await request(app).get('/health');
    const second = await request(app).get('/health');
    expect(first.headers['x-request-id']).toMatch(UUID);
    expect(second.headers['x-request-id']).not.toBe(first.headers['x-request-id']);
  });

  for (const text of ['Maria Muster', `${SENT} `.repeat(3), `${SENT}"}`, '7q7q', 'x'.repeat(4000)])
    it(`is made where the client sent no UUID: ${text.slice(0, 20)}`, async () => {
      const { log, lines } = capture();
      const headers = { 'Content-Type': 'application/json', 'X-Request-Id': text };
      const reply = await post(testApp({ log }), ORDER_PATH, orderCall(), headers);
      expect(reply.headers['x-request-id']).toMatch(UUID);
      expect(reply.headers['x-request-id']).not.toBe(SENT);
      expect(lines.join('')).not.toContain(text);
    });
});
