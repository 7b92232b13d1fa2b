import { rmSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { POSTGRES_BIN, startPostgres } from '../postgres/postgres-server.js';
import type { PostgresServer } from '../postgres/postgres-server.js';
import { bundleService } from './bundled-service.js';
import { runInstances } from './two-instances.js';

const CALLS = Number(process.env['KOTYLE_INSTANCE_CALLS'] ?? 60);

describe.skipIf(POSTGRES_BIN === undefined)('two processes on one PostgreSQL (KOTYLE_POSTGRES_BIN)', () => {
  let server: PostgresServer;
  let bundled = '';
  beforeAll(async () => {
    [server, bundled] = await Promise.all([startPostgres(), bundleService()]);
  }, 120_000);
  afterAll(async () => {
    await server.stop();
    rmSync(bundled, { recursive: true });
  }, 60_000);

  it(
    'keep each call once and each answer once, also one sent to both in opposite orders, in a chain each',
    async () => {
      const store = await server.newDatabase();
      const load = { bundled, store, instances: 2, calls: CALLS, answers: CALLS };
      const { answered, records, distinct, kept, verification } = await runInstances(load);
      expect({ answered, records, distinct, kept }).toEqual({
        answered: CALLS,
        records: CALLS,
        distinct: CALLS,
        kept: CALLS,
      });
      expect(verification).toMatchObject({ writers: 2, breaks: [] });
    },
    60_000 + CALLS * 100,
  );
});
