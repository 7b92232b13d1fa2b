import Database from 'better-sqlite3';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import type { ServiceStore } from '../../src/store/store.js';
import type { StoreThread } from '../../src/store/threaded-store.js';
import { answer, collected, decision, STEEP, temporaryFolder, TEST_KEY, uuid } from './records.js';
import { openThreaded } from './threaded.js';

const folder = temporaryFolder();
const newFile = (): string => join(folder(), 'kotyle.sqlite');
const open = (path: string, thread: Partial<StoreThread> = {}): Promise<ServiceStore> =>
  openThreaded({ path, contentKey: TEST_KEY }, thread);

const opened: ServiceStore[] = [];
afterEach(async () => {
  for (const store of opened.splice(0)) await store.close();
});

async function inThread(path: string, thread?: Partial<StoreThread>): Promise<ServiceStore> {
  const store = await open(path, thread);
  opened.push(store);
  return store;
}

const CONTENT = { call: { patientId: 'pät-1' }, cards: [{ summary: 'one' }] };

/** Truth throughout: the store of the same file, opened without a thread, as the command line does. */
describe('a store in a thread of its own', () => {
  it('keeps what a store without one keeps, durable when it says so', async () => {
    const path = newFile();
    const store = await inThread(path);
    await store.saveDecision(decision(1), CONTENT);
    await store.saveDecision(decision(2));
    await store.saveFeedback([answer(1, { comment: 'not for this hip' }), answer(2)]);
    // While the thread still has the file open: nothing of it waits in the thread.
    const direct = await openStore({ path, contentKey: TEST_KEY });
    expect(await direct.decision(uuid(1))).toEqual(decision(1));
    expect(await direct.decision(uuid(2))).toEqual(decision(2));
    expect(await direct.content(uuid(1))).toEqual(CONTENT);
    expect(await direct.content(uuid(2))).toBeUndefined();
    expect(await direct.answersTo(uuid(1))).toEqual([answer(1, { comment: 'not for this hip' })]);
    expect(await direct.verify()).toMatchObject({ writers: 1, breaks: [] });
    expect(await store.acknowledgedBy('patient-pseudonym')).toEqual(
      await direct.acknowledgedBy('patient-pseudonym'),
    );
    expect(await store.acknowledgedBy('patient-pseudonym')).toEqual(['sha256-facts-1', 'sha256-facts-2']);
    expect(await store.rulesOfCards([uuid(1), uuid(9)])).toEqual(
      await direct.rulesOfCards([uuid(1), uuid(9)]),
    );
    await direct.close();
  });

  it('takes what is prefetched from the body as it came, and nothing else of it', async () => {
    const path = newFile();
    const store = await inThread(path);
    const prefetch = { conditions: { resourceType: 'Bundle', entry: [] }, patient: null };
    const sent = (body: object): Uint8Array => new TextEncoder().encode(JSON.stringify(body));
    const token = { access_token: 'tokén' };
    await store.saveDecision(decision(1), { ...CONTENT, sent: sent({ prefetch, fhirAuthorization: token }) });
    await store.saveDecision(decision(2), { ...CONTENT, sent: sent({ prefetch: null }) });
    await store.close();
    const direct = await openStore({ path, contentKey: TEST_KEY });
    expect(await direct.content(uuid(1))).toEqual({ ...CONTENT, call: { ...CONTENT.call, prefetch } });
    expect(await direct.content(uuid(2))).toEqual({ ...CONTENT, call: { ...CONTENT.call, prefetch: {} } });
    await direct.close();
  });

  it('does everything else a service asks of it', async () => {
    const path = newFile();
    const store = await inThread(path);
    await store.ping();
    const soon = Date.parse('2026-11-24T10:05:00Z');
    expect(await store.rememberToken('client', 'one', soon)).toBe(true);
    expect(await store.rememberToken('client', 'one', soon)).toBe(false);
    await store.saveDecision(decision(1), CONTENT);
    await store.saveDifference({
      decision: uuid(1),
      at: '2026-11-24T10:00:00.000Z',
      candidateHash: 'sha256-candidate',
      kind: 'card',
      rule: STEEP,
    });
    // Twelve hours after both are past their time.
    expect(await store.prune(new Date('2026-11-25T00:00:00Z'))).toMatchObject({ contents: 1, tokens: 1 });
    await store.close();
    const direct = await openStore({ path, contentKey: TEST_KEY });
    expect(await collected(direct.differences())).toHaveLength(1);
    await direct.close();
  });

  it('commits what is still waiting before it is closed, and takes nothing afterwards', async () => {
    const path = newFile();
    const store = await inThread(path);
    const saved = [1, 2, 3].map((id) => store.saveDecision(decision(id)));
    await store.close();
    expect(await Promise.allSettled(saved)).toEqual(
      saved.map(() => ({ status: 'fulfilled', value: undefined })),
    );
    await expect(store.ping()).rejects.toThrow('expected a store that is open');
    // sqlite.org/wal.html: the last connection to close removes the write-ahead log.
    expect(() => readFileSync(`${path}-wal`)).toThrow(/ENOENT/);
    const direct = await openStore({ path, contentKey: TEST_KEY });
    expect(await direct.decision(uuid(3))).toEqual(decision(3));
    await direct.close();
  });

  it('says what a store without a thread says when it cannot be opened or written to', async () => {
    const nowhere = '/nowhere/at/all/kotyle.sqlite';
    const without = await openStore({ path: nowhere, contentKey: TEST_KEY }).catch((error: unknown) => error);
    await expect(open(nowhere)).rejects.toThrow((without as Error).message);
    const path = newFile();
    const store = await inThread(path);
    await store.saveDecision(decision(1));
    const other = new Database(path);
    other.exec('drop table feedback');
    other.close();
    // Truth: published, sqlite.org/rescode.html: SQLITE_ERROR is what a missing table gives; the code reaches the log.
    await expect(store.saveFeedback([answer(1)])).rejects.toMatchObject({ code: 'SQLITE_ERROR' });
    await store.ping();
  });

  it('fails what it was asked when its thread ends, and opens again by itself with all that was durable', async () => {
    const path = newFile();
    const told: string[] = [];
    const store = await inThread(path, {
      entry: new URL('./store-thread-that-ends.js', import.meta.url),
      pauseMs: 200,
      onEnded: (why) => told.push(why),
    });
    await store.saveDecision(decision(1));
    const asked = [store.acknowledgedBy('the end'), store.ping()];
    expect(await Promise.allSettled(asked)).toMatchObject(
      asked.map(() => ({ status: 'rejected', reason: { message: /^the thread of the store ended/ } })),
    );
    expect(told).toEqual(['by itself']);
    // Between two threads nothing is promised and nothing waits.
    await expect(store.saveDecision(decision(2))).rejects.toThrow('between two threads');
    await expect.poll(() => store.ping().then(() => 'open', String), { timeout: 20_000 }).toBe('open');
    await store.saveDecision(decision(3));
    await store.close();
    const direct = await openStore({ path, contentKey: TEST_KEY });
    expect((await collected(direct.decisions())).map(({ id }) => id)).toEqual([uuid(1), uuid(3)]);
    // Each thread wrote a chain of its own, and both hold.
    expect(await direct.verify()).toMatchObject({ writers: 2, breaks: [] });
    await direct.close();
  });

  it('lets whoever ends it while it is opening anew go', async () => {
    const store = await inThread(newFile(), {
      entry: new URL('./store-thread-that-ends.js', import.meta.url),
      pauseMs: 1,
    });
    await expect(store.acknowledgedBy('the end')).rejects.toThrow('the thread of the store ended');
    await new Promise((resolve) => setTimeout(resolve, 5));
    await store.close();
    await expect(store.ping()).rejects.toThrow('expected a store that is open');
  });
});
