import { Writable } from 'node:stream';
import { pino } from 'pino';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { pruneHourly } from '../../../src/server/operations/prune-timer.js';
import { NOW } from '../test-service.js';

const NOTHING = { contents: 0, keys: 0, decisions: 0, answers: 0, differences: 0, tokens: 0 };
const HOUR_MS = 3_600_000;

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

describe('what is past its time', () => {
  it('is removed at the start and every hour, until the service ends', async () => {
    const asked: Date[] = [];
    const prune = (at: Date): Promise<typeof NOTHING> => {
      asked.push(at);
      return Promise.resolve(NOTHING);
    };
    const end = pruneHourly({ prune }, { now: () => new Date(NOW), log: pino({ level: 'silent' }) });
    await vi.advanceTimersByTimeAsync(2 * HOUR_MS);
    expect(asked).toHaveLength(3);
    expect(asked[0]?.toISOString()).toBe(NOW);
    end();
    await vi.advanceTimersByTimeAsync(5 * HOUR_MS);
    expect(asked).toHaveLength(3);
  });

  it('is tried again an hour later when it could not be removed; the log has the code and no words', async () => {
    const lines: string[] = [];
    const stream = new Writable({
      write(chunk: Buffer, _encoding, done) {
        lines.push(chunk.toString('utf8'));
        done();
      },
    });
    let tries = 0;
    const prune = (): Promise<typeof NOTHING> => {
      tries += 1;
      return Promise.reject(Object.assign(new Error('row of Maria'), { code: 'SQLITE_BUSY' }));
    };
    const end = pruneHourly({ prune }, { now: () => new Date(NOW), log: pino({}, stream) });
    await vi.advanceTimersByTimeAsync(HOUR_MS);
    end();
    expect(tries).toBe(2);
    expect(lines.join('')).toContain('SQLITE_BUSY');
    expect(lines.join('')).not.toContain('Maria');
  });
});
