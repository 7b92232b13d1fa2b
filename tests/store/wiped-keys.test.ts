import Database from 'better-sqlite3';
import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import { decision, temporaryFolder, TEST_KEY } from './records.js';
import { rowsOfSqlite } from './sqlite-rows.js';

const folder = temporaryFolder();

/** Every byte of the files of a database: the file, its log and its index. */
function bytesBeside(path: string): string {
  const files = readdirSync(dirname(path)).map((name) => readFileSync(join(dirname(path), name)));
  return Buffer.concat(files).toString('latin1');
}

function wrappedKeys(path: string): readonly string[] {
  return rowsOfSqlite(path, 'select wrapped from data_keys').map(({ wrapped }) => String(wrapped));
}

describe('a key that was destroyed', () => {
  // Integration decisions section 5: erasure destroys the data key. Sqlite.org/pragma.html, secure_delete.
  it('is in none of the files of a SQLite database any more, nor is what was sealed under it', async () => {
    const path = join(folder(), 'kotyle.sqlite');
    const store = await openStore({ path, contentKey: TEST_KEY });
    const patients = Array.from({ length: 400 }, (_, index) => `patient ${(index * 73) % 400}`);
    const content = { call: { text: 'x'.repeat(2000) }, cards: [] };
    // Among many others, so that pages are split, moved and freed while it is there.
    await Promise.all(
      patients.map((patient, id) => store.saveDecision(decision(id, { patient, cards: [] }), content)),
    );
    const kept = wrappedKeys(path);
    expect(kept).toHaveLength(400);
    const sealed = rowsOfSqlite(path, 'select sealed from contents limit 50').map((row) =>
      String(row['sealed']),
    );
    expect(bytesBeside(path)).toContain(sealed[0]);
    for (const patient of patients.slice(0, 200)) {
      const forgotten = await store.forget(patient);
      expect(forgotten).toEqual({ contents: 1, hadKey: true, wiped: true });
    }
    const left = new Set(wrappedKeys(path));
    expect(left.size).toBe(200);
    const bytes = bytesBeside(path);
    const destroyed = kept.filter((key) => !left.has(key));
    expect(destroyed.filter((key) => bytes.includes(key))).toEqual([]);
    expect([...left].every((key) => bytes.includes(key))).toBe(true);
    await store.forget('nobody');
    await Promise.all(patients.slice(200).map((patient) => store.forget(patient)));
    const emptied = bytesBeside(path);
    expect([...left, ...sealed].filter((text) => emptied.includes(text))).toEqual([]);
    await store.close();
  });

  it('is said to linger while another process still reads what it stood in', async () => {
    const path = join(folder(), 'kotyle.sqlite');
    const store = await openStore({ path, contentKey: TEST_KEY, busyTimeoutMs: 20 });
    await store.saveDecision(decision(1), { call: {}, cards: [] });
    const [key = ''] = wrappedKeys(path);
    const reader = new Database(path, { readonly: true });
    reader.exec('begin');
    reader.prepare('select count(*) from data_keys').get();
    expect(await store.forget(decision(1).patient)).toEqual({ contents: 1, hadKey: true, wiped: false });
    reader.exec('commit');
    reader.close();
    // Asked again when nobody reads, it goes.
    expect(await store.forget(decision(1).patient)).toMatchObject({ wiped: true });
    expect(bytesBeside(path)).not.toContain(key);
    await store.close();
  });
});
