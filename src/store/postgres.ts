import { Kysely, PostgresDialect, sql } from 'kysely';
import pg from 'pg';
import type { StoreDatabase } from './database.js';
import type { Tables } from './tables.js';

/** Everything that only PostgreSQL knows stands in this file. */

/** How long a statement may take, and how long one waits for a lock, before it fails. */
const STATEMENT_TIMEOUT_MS = 10_000;
const LOCK_TIMEOUT_MS = 2000;
/** How long a connection may take to come about. */
const CONNECT_TIMEOUT_MS = 2000;
/** Writes use one connection at a time; the others are for reading. */
const MOST_CONNECTIONS = 4;
/** `kotyle` as a number: names the advisory lock under which tables are brought up to date. */
const TABLES_LOCK = 6_811_011;

const URL_FORM = /^postgres(?:ql)?:\/\//;

export function isPostgresUrl(path: string): boolean {
  return URL_FORM.test(path);
}

/** The database as a message may name it: without user and password. */
export function postgresName(url: string): string {
  if (!URL.canParse(url)) return 'a PostgreSQL database';
  const { host, pathname, searchParams } = new URL(url);
  return `postgres://${host === '' ? (searchParams.get('host') ?? '') : host}${pathname}`;
}

/**
 * Opens a PostgreSQL database. Connections are made when they are needed and made again when they broke; what was
 * being written then fails and is told so. Throws on a URL that is none, without repeating it.
 */
export function openPostgres(url: string, lockTimeoutMs: number = LOCK_TIMEOUT_MS): StoreDatabase {
  if (!URL.canParse(url)) throw new Error('expected a PostgreSQL URL such as postgres://user@host/database');
  const pool = new pg.Pool({
    connectionString: url,
    max: MOST_CONNECTIONS,
    connectionTimeoutMillis: CONNECT_TIMEOUT_MS,
    statement_timeout: STATEMENT_TIMEOUT_MS,
    lock_timeout: lockTimeoutMs,
    idle_in_transaction_session_timeout: STATEMENT_TIMEOUT_MS,
    keepAlive: true,
    application_name: 'kotyle',
    types: { getTypeParser: parserOf },
  });
  // A connection that breaks is told to whoever uses it next; unheard, the event would end the process.
  pool.on('error', () => undefined);
  pool.on('connect', (client) => {
    client.on('error', () => undefined);
  });
  const db = new Kysely<Tables>({ dialect: new PostgresDialect({ pool }) });
  return {
    db,
    lockTables: async (transaction) => {
      await sql`select pg_advisory_xact_lock(${TABLES_LOCK})`.execute(transaction);
    },
    durabilityFaults: () => durabilityFaults(db),
    wipeDeleted: () => vacuum(db),
  };
}

/** Whole numbers of 64 bits as numbers, where pg would give texts: ours stay far below 2^53. */
function parserOf(...[type, format]: Parameters<pg.CustomTypesConfig['getTypeParser']>): unknown {
  return type === pg.types.builtins.INT8 ? Number : pg.types.getTypeParser(type, format);
}

/** Settings of the server that each give up commits or whole pages when it crashes (PostgreSQL manual, section 20.5). */
const DURABLE = ['fsync', 'synchronous_commit', 'full_page_writes'] as const;

async function durabilityFaults(db: Kysely<Tables>): Promise<readonly string[]> {
  const { rows } = await sql<{ name: string; setting: string }>`
    select name, setting from pg_settings where name in (${sql.join(DURABLE)}) order by name`.execute(db);
  return rows
    .filter(({ setting }) => setting === 'off')
    .map(({ name }) => `expected the server's setting ${name} on, found off`);
}

/** Frees the room of deleted keys and contents; the server writes over it as it sees fit, and its log stays. */
async function vacuum(db: Kysely<Tables>): Promise<boolean> {
  await sql`vacuum data_keys, contents`.execute(db);
  return true;
}
