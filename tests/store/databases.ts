import { join } from 'node:path';
import { afterAll, beforeAll, describe } from 'vitest';
import {
  query as queryPostgres,
  POSTGRES_BIN,
  rowsOf as rowsOfPostgres,
  startPostgres,
} from '../postgres/postgres-server.js';
import type { Tables } from '../../src/store/tables.js';
import type { PostgresServer } from '../postgres/postgres-server.js';
import { execSqlite, rowsOfSqlite } from './sqlite-rows.js';
import { temporaryFolder } from './records.js';

/** Every table of the store. */
export const TABLES = [
  'migrations',
  'migration_floors',
  'decisions',
  'cards',
  'firings',
  'unmapped',
  'feedback',
  'chain',
  'data_keys',
  'contents',
  'tokens',
  'differences',
] as const satisfies readonly (keyof Tables)[];

type Row = Readonly<Record<string, unknown>>;

/** One kind of database: gives empty ones, and looks into them with nothing of ours. */
export interface Databases {
  readonly kind: 'SQLite' | 'PostgreSQL';
  readonly empty: () => Promise<string>;
  readonly rows: (path: string, text: string) => Promise<readonly Row[]>;
  readonly exec: (path: string, text: string) => Promise<void>;
}

/** Runs a suite over a SQLite file and over a real PostgreSQL; the second is skipped by name where there is none. */
export function describeDatabases(name: string, suite: (databases: Databases) => void): void {
  describe(`${name}, on SQLite`, () => {
    const folder = temporaryFolder();
    suite({
      kind: 'SQLite',
      empty: () => Promise.resolve(join(folder(), 'kotyle.sqlite')),
      rows: (path, text) => attempt(() => rowsOfSqlite(path, text)),
      exec: (path, text) => attempt(() => execSqlite(path, text)),
    });
  });
  describe.skipIf(POSTGRES_BIN === undefined)(`${name}, on PostgreSQL (KOTYLE_POSTGRES_BIN)`, () => {
    let server: PostgresServer | undefined;
    beforeAll(async () => {
      server = await startPostgres();
    }, 60_000);
    afterAll(() => server?.stop(), 60_000);
    suite({
      kind: 'PostgreSQL',
      empty: () => (server ? server.newSchema() : Promise.reject(new Error('not started'))),
      rows: rowsOfPostgres,
      exec: queryPostgres,
    });
  });
}

/** What throws at once rejects, as with a server. */
async function attempt<Value>(work: () => Value): Promise<Value> {
  return await Promise.resolve().then(work);
}
