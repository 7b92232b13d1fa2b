import Database from 'better-sqlite3';
import { sql } from 'kysely';
import { spawnSync } from 'node:child_process';
import { createSecretKey } from 'node:crypto';
import { statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import { openSqlite } from '../../src/store/sqlite.js';
import { newStore } from '../../src/store/sql-store.js';
import type { Store } from '../../src/store/store.js';
import { answer, decision, temporaryFolder, TEST_KEY, TEST_OPTIONS, uuid } from './records.js';
import { describeStore } from './store-suite.js';

const folder = temporaryFolder();
const newFile = (): string => join(folder(), 'kotyle.sqlite');
const open = (path: string, busyTimeoutMs?: number): Promise<Store> =>
  openStore({ path, contentKey: TEST_KEY, ...(busyTimeoutMs !== undefined && { busyTimeoutMs }) });

describeStore('SQLite in memory', () => open(':memory:'));

/** Rows of a file, read by nothing of ours. */
function rowsOf(path: string, table: string): readonly Readonly<Record<string, unknown>>[] {
  const database = new Database(path, { readonly: true });
  try {
    return database.prepare(`select * from ${table}`).all() as readonly Readonly<Record<string, unknown>>[];
  } finally {
    database.close();
  }
}

describe('a SQLite file', () => {
  it('survives power loss: a write-ahead log, synchronised at each commit', async () => {
    const { db } = openSqlite(newFile());
    const pragma = async (name: string): Promise<unknown> => {
      const { rows } = await sql<Record<string, unknown>>`pragma ${sql.raw(name)}`.execute(db);
      return Object.values(rows[0] ?? {})[0];
    };
    // Truth: published, sqlite.org/pragma.html: FULL is 2; in WAL mode NORMAL (1) may lose commits at power loss.
    expect(await pragma('journal_mode')).toBe('wal');
    expect(await pragma('synchronous')).toBe(2);
    expect(await pragma('foreign_keys')).toBe(1);
    expect(await pragma('busy_timeout')).toBe(2000);
    // sqlite.org/pragma.html: 1 overwrites deleted content with zeros.
    expect(await pragma('secure_delete')).toBe(1);
    await db.destroy();
  });

  it('can be read by its owner only, with its log and index', async () => {
    const path = newFile();
    const store = await open(path);
    await store.saveDecision(decision(1));
    // Integration decisions section 5: it is health data and treated so.
    for (const file of [path, `${path}-wal`, `${path}-shm`])
      expect(statSync(file).mode & 0o777, file).toBe(0o600);
    await store.close();
  });

  it('keeps its locks when the same process opens it a second time', async () => {
    const path = newFile();
    const first = new Database(path);
    first.exec('begin exclusive');
    // Truth: published, sqlite.org/howtocorrupt.html, 2.2: closing any handle of the file lets go of the locks on it.
    await expect(open(path, 1)).rejects.toThrow(/locked/);
    const script = `new (require('better-sqlite3'))(process.argv[1], { timeout: 1 }).exec('create table t (x)')`;
    const other = spawnSync(process.execPath, ['-e', script, path], { encoding: 'utf8' });
    expect(other.stderr).toContain('database is locked');
    first.close();
  });

  it('is read again by the next run', async () => {
    const path = newFile();
    const first = await open(path);
    await first.saveDecision(decision(1));
    await first.saveFeedback([answer(1, { comment: 'Zqxmarker' })]);
    await first.close();
    const second = await open(path);
    expect(await second.decision(uuid(1))).toEqual(decision(1));
    expect(await second.answersTo(uuid(1))).toEqual([answer(1, { comment: 'Zqxmarker' })]);
    expect(await second.acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1']);
    await second.close();
  });

  it('holds comments sealed, and says that they cannot be read under another key', async () => {
    const path = newFile();
    const store = await open(path);
    await store.saveFeedback([answer(1, { comment: 'Zqxmarker' })]);
    await store.close();
    expect(JSON.stringify(rowsOf(path, 'feedback'))).not.toContain('Zqxmarker');
    const other = await openStore({ path, contentKey: createSecretKey(Buffer.alloc(32, 8)) });
    expect(await other.answersTo(uuid(1))).toEqual([{ ...answer(1), commentUnreadable: true }]);
    await other.close();
  });

  it('is shared by two connections: each sees what the other kept, and an answer sent to both is kept once', async () => {
    const path = newFile();
    const [one, two] = [await open(path), await open(path)];
    const same = answer(1, { comment: 'the same' });
    await Promise.all([
      ...Array.from({ length: 60 }, (_, index) => one.saveFeedback([answer(index), same])),
      ...Array.from({ length: 60 }, (_, index) => two.saveFeedback([answer(index), same])),
      one.saveDecision(decision(1)),
      two.saveDecision(decision(1)),
    ]);
    expect(await two.answersTo(uuid(1))).toEqual(await one.answersTo(uuid(1)));
    expect(rowsOf(path, 'feedback')).toHaveLength(61);
    expect(rowsOf(path, 'decisions')).toHaveLength(1);
    await Promise.all([one.close(), two.close()]);
  });

  it('refuses a write while another process holds it too long, and takes the next one again', async () => {
    const path = newFile();
    const store = await open(path, 20);
    const other = new Database(path);
    other.exec('begin immediate');
    await expect(store.saveFeedback([answer(1)])).rejects.toMatchObject({ code: 'SQLITE_BUSY' });
    other.exec('rollback');
    other.close();
    await store.saveFeedback([answer(1)]);
    expect(await store.answersTo(uuid(1))).toHaveLength(1);
    await store.close();
  });

  it('tells everybody of a group when its disk is full, and works again when there is room', async () => {
    const path = newFile();
    const database = openSqlite(path);
    const { db } = database;
    const store = await newStore(database, TEST_OPTIONS);
    await store.saveFeedback([answer(0)]);
    const { rows } = await sql<{ page_count: number }>`pragma page_count`.execute(db);
    await sql`pragma max_page_count = ${sql.raw(String(rows[0]?.page_count))}`.execute(db);
    const comment = 'x'.repeat(50_000);
    const results = await Promise.allSettled(
      [1, 2, 3].map((number) => store.saveFeedback([answer(number, { comment })])),
    );
    // Truth: published, sqlite.org/lang_transaction.html: SQLITE_FULL may roll back the whole transaction.
    for (const result of results)
      expect(result).toMatchObject({ status: 'rejected', reason: { code: 'SQLITE_FULL' } });
    await sql`pragma max_page_count = 100000`.execute(db);
    await store.saveFeedback([1, 2, 3].map((number) => answer(number, { comment })));
    expect(rowsOf(path, 'feedback')).toHaveLength(4);
    await store.close();
  });

  const unusable: Readonly<Record<string, () => string>> = {
    'a folder': () => folder(),
    'in a folder that does not exist': () => join(folder(), 'none', 'kotyle.sqlite'),
    'a file of something else': () => {
      const path = newFile();
      writeFileSync(path, 'This is a letter, not a database. '.repeat(100));
      return path;
    },
  };
  for (const [what, make] of Object.entries(unusable)) {
    it(`is refused, by its name, when it is ${what}`, async () => {
      const path = make();
      // Style, errors: what was expected, what was found, and where.
      await expect(open(path)).rejects.toThrow(path);
    });
  }
});
