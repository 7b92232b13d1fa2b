import Database from 'better-sqlite3';
import { mkdtempSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleService } from '../bundled-service.js';
import { pause, startProcess, statusOf, untilStatus } from './service-process.js';
import { callTraffic, feedbackTraffic } from './traffic.js';

const folder = mkdtempSync(join(tmpdir(), 'kotyle-stop-'));
let bundled = '';
beforeAll(async () => {
  bundled = await bundleService();
}, 60_000);
afterAll(() => {
  rmSync(folder, { recursive: true });
  rmSync(bundled, { recursive: true });
});

/** What a query finds in a store, read by nothing of ours. */
function column(path: string, query: string): readonly string[] {
  const database = new Database(path, { readonly: true });
  try {
    return database.prepare(query).pluck().all() as readonly string[];
  } finally {
    database.close();
  }
}

/** Waits until so many requests were answered with 200. */
async function untilAnswered(
  exchanges: readonly { readonly status?: number | undefined }[],
  count: number,
): Promise<void> {
  while (exchanges.filter(({ status }) => status === 200).length < count) await pause(5);
}

describe('a service that is told to stop under load', () => {
  it('answers what it took in, keeps all it answered, and ends with 0', async () => {
    const path = join(folder, 'under-load.sqlite');
    const service = await startProcess(bundled, { KOTYLE_STORE: path, KOTYLE_LOG_LEVEL: 'info' });
    const calls = callTraffic(service.url, 6);
    const feedback = feedbackTraffic(service.url, 6);
    await untilAnswered(calls.exchanges, 30);
    await untilAnswered(feedback.exchanges, 30);
    service.child.kill('SIGTERM');
    expect(await service.ended).toBe(0);
    await Promise.all([calls.stop(), feedback.stop()]);
    const answered = calls.exchanges.filter(({ status }) => status === 200);
    const taken = feedback.exchanges.filter(({ status }) => status === 200);
    const keys = column(path, 'select key from decisions').join('\n');
    expect(answered.filter(({ hookInstance }) => !keys.includes(hookInstance))).toEqual([]);
    const cards = new Set(column(path, 'select card from feedback'));
    expect(taken.filter(({ card }) => !cards.has(card))).toEqual([]);
    expect(answered.length).toBeGreaterThanOrEqual(30);
    // A request that got an answer got a whole one; nobody was told of a failure.
    for (const { status, text } of calls.exchanges) {
      expect([200, 503, undefined]).toContain(status);
      if (status === 200) expect(JSON.parse(text)).toHaveProperty('cards');
    }
    expect(service.log()).toContain('"unfinished":0');
  }, 60_000);
});

describe('a service that is told to stop', () => {
  it('[E8] says on the operators’ port that it is not ready while it still answers, as long as it was set to', async () => {
    const service = await startProcess(bundled, { KOTYLE_DRAIN_S: '2' });
    expect(await statusOf(`${service.operationsUrl}/ready`)).toBe(200);
    service.child.kill('SIGTERM');
    await untilStatus(`${service.operationsUrl}/ready`, 503);
    expect(await statusOf(`${service.url}/cds-services`)).toBe(200);
    await untilStatus(`${service.url}/cds-services`, undefined);
    expect(await service.ended).toBe(0);
  }, 30_000);

  it('is not kept alive by a connection that sends nothing', async () => {
    const service = await startProcess(bundled);
    const { hostname, port } = new URL(service.url);
    const silent = connect(Number(port), hostname);
    silent.on('error', () => undefined);
    await new Promise((resolve) => silent.once('connect', resolve));
    service.child.kill('SIGTERM');
    expect(await service.ended).toBe(0);
    silent.destroy();
  }, 30_000);

  it('ends at once when it is told a second time', async () => {
    const service = await startProcess(bundled, { KOTYLE_DRAIN_S: '60' });
    service.child.kill('SIGTERM');
    await untilStatus(`${service.operationsUrl}/ready`, 503);
    service.child.kill('SIGTERM');
    expect(await service.ended).toBe(1);
  }, 30_000);
});
