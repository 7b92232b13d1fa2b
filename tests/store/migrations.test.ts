import { fork } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { StoreDatabase } from '../../src/store/database.js';
import { migrate, MIGRATIONS } from '../../src/store/migrations.js';
import type { Migration } from '../../src/store/migrations.js';
import { isPostgresUrl, openPostgres } from '../../src/store/postgres.js';
import { openSqlite } from '../../src/store/sqlite.js';
import { openStore } from '../../src/store/open-store.js';
import { newStore } from '../../src/store/sql-store.js';
import { describeDatabases } from './databases.js';
import { answer, decision, firstForm, TEST_KEY, TEST_OPTIONS, uuid } from './records.js';
import type { WriterTask } from './writer.js';

const NEWEST = MIGRATIONS.length;

function open(path: string): StoreDatabase {
  return isPostgresUrl(path) ? openPostgres(path) : openSqlite(path);
}

function step(number: number, change: Partial<Migration> = {}): Migration {
  return { number, name: `step ${number}`, floor: number, up: () => Promise.resolve(), ...change };
}

describe('the steps', () => {
  it('are numbered from one without a gap, and none asks for more than itself', () => {
    expect(MIGRATIONS.map(({ number }) => number)).toEqual(MIGRATIONS.map((_, index) => index + 1));
    for (const { number, floor } of MIGRATIONS) expect(floor).toBeLessThanOrEqual(number);
  });
});

describeDatabases('the tables', ({ empty, rows, exec }) => {
  it('are brought forward step by step, each step once, and what is kept stays', async () => {
    const path = await empty();
    const store = await openStore({ path, contentKey: TEST_KEY });
    await store.saveFeedback([answer(1)]);
    await store.close();
    const database = open(path);
    const done: number[] = [];
    const later = [NEWEST + 1, NEWEST + 2].map((number) =>
      step(number, {
        up: () => {
          done.push(number);
          return Promise.resolve();
        },
      }),
    );
    await migrate(database, [...MIGRATIONS, ...later.slice(0, 1)]);
    await migrate(database, [...MIGRATIONS, ...later]);
    await migrate(database, [...MIGRATIONS, ...later]);
    expect(done).toEqual([NEWEST + 1, NEWEST + 2]);
    await database.db.destroy();
    expect(await rows(path, 'select * from feedback')).toHaveLength(1);
    const names = await rows(path, 'select name from migrations order by number');
    expect(names.map(({ name }) => name)).toEqual([...MIGRATIONS, ...later].map(({ name }) => name));
  });

  it('stay as they were when a step fails', async () => {
    const path = await empty();
    const database = open(path);
    const broken = step(NEWEST + 1, { up: () => Promise.reject(new Error('cannot')) });
    await expect(migrate(database, [...MIGRATIONS, broken])).rejects.toThrow('cannot');
    await database.db.destroy();
    await expect(rows(path, 'select * from migrations')).rejects.toThrow(/migrations/);
  });

  it('of a newer version are refused when it wrote what this one would get wrong, saying which version is needed', async () => {
    const path = await empty();
    const database = open(path);
    await migrate(database, [...MIGRATIONS, step(NEWEST + 1, { floor: NEWEST }), step(NEWEST + 2)]);
    await database.db.destroy();
    const opening = openStore({ path, contentKey: TEST_KEY });
    await expect(opening).rejects.toThrow(
      new RegExp(`version ${NEWEST} can use, found version ${NEWEST + 2}, which needs version ${NEWEST + 2}`),
    );
  });

  it('of a step that names no floor are refused: the version that took it did not know of any', async () => {
    const path = await empty();
    await (await openStore({ path, contentKey: TEST_KEY })).close();
    await exec(path, `insert into migrations (number, name) values (99, 'from the future')`);
    await expect(openStore({ path, contentKey: TEST_KEY })).rejects.toThrow(/found version 99/);
  });

  it('of a newer version that only added to them serve old and new instance side by side, and a rollback', async () => {
    const path = await empty();
    const additive = step(NEWEST + 1, {
      floor: NEWEST,
      up: async (db) => {
        await db.schema.alterTable('feedback').addColumn('added', 'text').execute();
      },
    });
    const old = await openStore({ path, contentKey: TEST_KEY });
    await old.saveDecision(decision(1));
    const updated = open(path);
    await migrate(updated, [...MIGRATIONS, additive]);
    const young = await newStore(updated, { ...TEST_OPTIONS, writer: 'the new instance' });
    // The old instance goes on, and so does one that is started again after a rollback.
    const again = await openStore({ path, contentKey: TEST_KEY });
    await Promise.all([
      old.saveFeedback([answer(1, { comment: 'old' })]),
      young.saveFeedback([answer(2)]),
      again.saveDecision(decision(2)),
    ]);
    expect(await young.answersTo(uuid(1))).toEqual([answer(1, { comment: 'old' })]);
    expect(await old.answersTo(uuid(2))).toEqual([answer(2)]);
    for (const store of [old, young, again]) expect((await store.verify()).breaks).toEqual([]);
    await Promise.all([old.close(), young.close(), again.close()]);
  });

  it('of the first version get their place in a chain, and their comments can still be read and erased', async () => {
    const path = await empty();
    const database = open(path);
    await migrate(database, MIGRATIONS.slice(0, 1));
    const record = JSON.stringify(decision(1));
    await database.db
      .insertInto('decisions')
      .values({
        id: uuid(1),
        key: decision(1).key,
        at: decision(1).at,
        iss: '-',
        service: decision(1).service,
        patient: decision(1).patient,
        record,
      })
      .execute();
    await database.db
      .insertInto('cards')
      .values({
        decision: uuid(1),
        uuid: uuid(1),
        rule: decision(1).cards[0]?.rule ?? '',
        acknowledgement: 'sha256-facts-1',
      })
      .execute();
    await database.db
      .insertInto('firings')
      .values({
        decision: uuid(1),
        rule: decision(1).outcomes[0]?.rule ?? '',
        hip: 'left',
        construct: 'planned',
        shown: 1,
      })
      .execute();
    const { card, iss, service, outcome, at, receivedAt } = answer(1);
    await database.db
      .insertInto('feedback')
      .values({
        digest: 'sha256-first',
        card,
        iss,
        service,
        outcome,
        at,
        accepted_suggestions: '[]',
        reason_system: null,
        reason_code: null,
        comment: firstForm('as it was', card),
        received_at: receivedAt,
      })
      .execute();
    await database.db.destroy();
    const store = await openStore({ path, contentKey: TEST_KEY });
    expect(await store.decision(uuid(1))).toEqual(decision(1));
    expect(await store.answersTo(uuid(1))).toEqual([answer(1, { comment: 'as it was' })]);
    expect(await store.verify()).toEqual({ entries: 2, writers: 1, breaks: [], more: false });
    expect(await store.forget(decision(1).patient)).toMatchObject({ contents: 1 });
    expect(await store.answersTo(uuid(1))).toEqual([{ ...answer(1), commentUnreadable: true }]);
    expect(await store.verify()).toMatchObject({ breaks: [] });
    await store.close();
  });

  it('are made once, and shared, by processes that open them at the same moment', async () => {
    const writer = fileURLToPath(new URL('./writer.ts', import.meta.url));
    const children = Array.from({ length: 4 }, () => fork(writer, { execArgv: ['--import', 'tsx'] }));
    const heard = (): Promise<readonly string[]> =>
      Promise.all(children.map(async (child) => ((await once(child, 'message')) as [string])[0]));
    try {
      await heard();
      for (let round = 0; round < 6; round += 1) {
        const task: WriterTask = { path: await empty(), at: Date.now() + 20 };
        const { path } = task;
        const done = heard();
        for (const child of children) child.send(task);
        expect(await done).toEqual(['', '', '', '']);
        expect(await rows(path, 'select * from migrations')).toHaveLength(MIGRATIONS.length);
        // Each kept the same answers.
        expect(await rows(path, 'select * from feedback')).toHaveLength(40);
        const store = await openStore({ path, contentKey: TEST_KEY });
        expect(await store.verify()).toMatchObject({ entries: 40, breaks: [] });
        await store.close();
      }
    } finally {
      for (const child of children) child.kill();
    }
  }, 60_000);
});
