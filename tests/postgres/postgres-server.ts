import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { chownSync, existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';

/** A folder with PostgreSQL's `initdb` and `postgres`; without it, tests that need them are skipped by name. */
export const POSTGRES_BIN = process.env['KOTYLE_POSTGRES_BIN'];

/** A PostgreSQL of its own, reached through a socket in a folder of its own: no port, and nobody else. */
export interface PostgresServer {
  /** An empty database; the URL of it. */
  readonly newDatabase: () => Promise<string>;
  /** An empty schema of one database, in which everything is made and looked for: made in much less time. */
  readonly newSchema: () => Promise<string>;
  /** Ends it as a power cut would: no process of it gets to write anything more. */
  readonly kill: () => Promise<void>;
  /** Starts it again on the same files, after it was killed. */
  readonly restart: () => Promise<void>;
  /** Sets something for the whole server and has it read. */
  readonly set: (setting: string, value: string) => Promise<void>;
  /** The folder of its files. */
  readonly files: string;
  readonly stop: () => Promise<void>;
}

/** The account servers run under when the tests run as root, whom PostgreSQL refuses. */
interface Account {
  readonly uid: number;
  readonly gid: number;
}

function otherAccount(): Account | undefined {
  if (process.getuid?.() !== 0) return undefined;
  for (const name of ['postgres', 'nobody']) {
    const [uid, gid] = ['-u', '-g'].map((what) =>
      Number.parseInt(spawnSync('id', [what, name], { encoding: 'utf8' }).stdout, 10),
    );
    if (uid !== undefined && gid !== undefined && !Number.isNaN(uid)) return { uid, gid };
  }
  throw new Error('expected an account postgres or nobody to run PostgreSQL under, found neither');
}

/** Makes and starts a server; throws when the folder of the setting holds none that can be started. */
export async function startPostgres(settings: readonly string[] = []): Promise<PostgresServer> {
  const bin = POSTGRES_BIN ?? '';
  for (const program of ['initdb', 'postgres'])
    if (!existsSync(join(bin, program)))
      throw new Error(`KOTYLE_POSTGRES_BIN: expected a folder with ${program}, found none at ${bin}`);
  const account = otherAccount();
  const root = mkdtempSync(join(tmpdir(), 'kotyle-pg-'));
  const [files, sockets] = [join(root, 'data'), join(root, 'run')];
  for (const folder of [root, files, sockets]) {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    if (account) chownSync(folder, account.uid, account.gid);
  }
  const made = spawnSync(
    join(bin, 'initdb'),
    [
      '-D',
      files,
      '-U',
      'kotyle',
      '-A',
      'trust',
      '-E',
      'UTF8',
      '--locale=C.UTF-8',
      '--no-sync',
      '--no-instructions',
    ],
    { ...account, cwd: root, encoding: 'utf8' },
  );
  if (made.status !== 0) throw new Error(`initdb failed: ${made.stderr}`);
  const options = ['-D', files, '-k', sockets, '-c', 'listen_addresses=', '-c', 'max_connections=60'];
  const urlOf = (database: string): string =>
    `postgres:///${database}?user=kotyle&host=${encodeURIComponent(sockets)}`;
  let child: ChildProcess | undefined;
  const start = async (): Promise<void> => {
    child = spawn(join(bin, 'postgres'), [...options, ...settings.flatMap((setting) => ['-c', setting])], {
      ...account,
      cwd: root,
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    await answering(child, urlOf('postgres'));
  };
  await start();
  let [databases, schemas] = [0, 0];
  const ask = (text: string): Promise<void> => query(urlOf('postgres'), text);
  return {
    files,
    newDatabase: async () => {
      databases += 1;
      await ask(`create database kotyle_${databases}`);
      return urlOf(`kotyle_${databases}`);
    },
    newSchema: async () => {
      schemas += 1;
      await ask(`create schema kotyle_${schemas}`);
      return `${urlOf('postgres')}&options=${encodeURIComponent(`-c search_path=kotyle_${schemas}`)}`;
    },
    kill: async () => {
      await end(child, files);
    },
    restart: start,
    set: async (setting, value) => {
      await ask(`alter system set ${setting} = ${value}`);
      await ask('select pg_reload_conf()');
    },
    stop: async () => {
      // Nothing of it is wanted any more: it need not write what it holds.
      await end(child, files);
      rmSync(root, { recursive: true });
    },
  };
}

/** Runs one statement; for what only the owner of a database does. */
export async function query(url: string, text: string): Promise<void> {
  await rowsOf(url, text);
}

/** Rows of a database, read by nothing of ours. */
export async function rowsOf(
  url: string,
  text: string,
): Promise<readonly Readonly<Record<string, unknown>>[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return (await client.query<Readonly<Record<string, unknown>>>(text)).rows;
  } finally {
    await client.end();
  }
}

const TRIES = 600;

async function answering(child: ChildProcess, url: string): Promise<void> {
  let printed = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    printed += chunk.toString('utf8');
  });
  for (let tries = 0; tries < TRIES; tries += 1) {
    if (child.exitCode !== null) throw new Error(`postgres did not start: ${printed}`);
    try {
      await query(url, 'select 1');
      return;
    } catch {
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
  }
  throw new Error(`postgres did not answer: ${printed}`);
}

/** Ends the server and the processes it started, known by the server's own process id. */
async function end(child: ChildProcess | undefined, files: string): Promise<void> {
  if (!child || child.exitCode !== null || child.signalCode !== null) return;
  const gone = once(child, 'exit');
  const others = childrenOf(child.pid);
  child.kill('SIGKILL');
  for (const pid of others) killIfThere(pid);
  await gone;
  rmSync(join(files, 'postmaster.pid'), { force: true });
}

function childrenOf(pid: number | undefined): readonly number[] {
  const listed = spawnSync('ps', ['-o', 'pid=', '--ppid', String(pid)], { encoding: 'utf8' });
  return listed.stdout
    .split('\n')
    .map(Number)
    .filter((number) => number > 0);
}

function killIfThere(pid: number): void {
  try {
    process.kill(pid, 'SIGKILL');
  } catch {
    // It has gone by itself.
  }
}
