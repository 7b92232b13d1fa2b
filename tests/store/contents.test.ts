import { createSecretKey } from 'node:crypto';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { DecisionContent } from '../../src/store/decision-content.js';
import { openStore } from '../../src/store/open-store.js';
import type { StoreSettings } from '../../src/store/open-store.js';
import type { Store } from '../../src/store/store.js';
import { describeDatabases } from './databases.js';
import type { Databases } from './databases.js';
import { answer, card, decision, TEST_KEY, uuid } from './records.js';

const CONTENT: DecisionContent = {
  call: { patientId: 'Zqxmarker', prefetch: { patient: { resourceType: 'Patient', gender: 'female' } } },
  cards: [{ summary: 'Zqxmarker 64 degrees' }],
};
const LATER = new Date('2026-11-24T22:00:00.001Z');

// Truth throughout, where nothing else is named: integration decisions section 5, "Content" and "Erasure".
describeDatabases('sealed contents', (databases) => {
  let path = '';
  let store: Store;
  const open = async (change: Partial<StoreSettings> = {}): Promise<Store> =>
    openStore({ path, contentKey: TEST_KEY, keepContentHours: 12, ...change });
  beforeEach(async () => {
    path = await databases.empty();
    store = await open();
  });
  afterEach(() => store.close());
  const context = {
    store: () => store,
    reopen: async (change: Partial<StoreSettings>) => {
      await store.close();
      store = await open(change);
    },
    rows: (text: string) => databases.rows(path, text),
  };
  describeKeeping(context);
  describeErasing(context);
  describePruning(context);
});

interface Context {
  readonly store: () => Store;
  readonly reopen: (change: Partial<StoreSettings>) => Promise<void>;
  readonly rows: (text: string) => ReturnType<Databases['rows']>;
}

async function countOf({ rows }: Context, table: string): Promise<number> {
  const [row] = await rows(`select count(*) as number from ${table}`);
  return Number(row?.['number']);
}

function describeKeeping(context: Context): void {
  const { store, reopen, rows } = context;

  it('opens again to what an evaluation was made from', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().saveDecision(decision(2));
    expect(await store().content(uuid(1))).toEqual(CONTENT);
    expect(await store().content(uuid(2))).toBeUndefined();
    expect(await store().content(uuid(3))).toBeUndefined();
  });

  it('stands in the database as nothing that can be read, under a key of its patient that is wrapped', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().saveDecision(decision(2), CONTENT);
    await store().saveDecision(decision(3, { patient: 'other' }), CONTENT);
    const contents = await rows('select * from contents');
    expect(contents).toHaveLength(3);
    for (const { sealed } of contents) {
      const bytes = Buffer.from(String(sealed), 'base64').toString('latin1');
      expect(bytes).not.toContain('Zqxmarker');
      expect(bytes).not.toContain('female');
    }
    // The same content is never sealed to the same bytes.
    expect(new Set(contents.map(({ sealed }) => sealed)).size).toBe(3);
    const keys = await rows('select patient, wrapped from data_keys');
    expect(keys.map(({ patient }) => patient).sort()).toEqual(['other', 'patient-pseudonym']);
    // A nonce, the 32 bytes of the key, a tag: SP 800-38D.
    for (const { wrapped } of keys)
      expect(Buffer.from(String(wrapped), 'base64url')).toHaveLength(12 + 32 + 16);
  });

  it('cannot be opened under another content key, which begins anew with the same patient', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await reopen({ contentKey: createSecretKey(Buffer.alloc(32, 8)) });
    expect(await store().content(uuid(1))).toBeUndefined();
    await store().saveDecision(decision(2), CONTENT);
    expect(await store().content(uuid(2))).toEqual(CONTENT);
    await reopen({ contentKey: TEST_KEY });
    expect(await store().content(uuid(1))).toEqual(CONTENT);
    expect(await store().content(uuid(2))).toBeUndefined();
  });

  it('is not kept at all where nothing is to be kept', async () => {
    await reopen({ keepContentHours: 0 });
    await store().saveDecision(decision(1), CONTENT);
    await store().saveFeedback([answer(1, { comment: 'Zqxmarker' })]);
    expect(await countOf(context, 'contents')).toBe(0);
    expect(await store().decision(uuid(1))).toEqual(decision(1));
    // The answer stays, and says that there was a comment.
    expect(await store().answersTo(uuid(1))).toEqual([{ ...answer(1), commentUnreadable: true }]);
  });

  it('holds the comment on a known card under the key of its patient, and any other under a key of its own', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().saveFeedback([
      answer(1, { comment: 'known' }),
      answer(2, { comment: 'unknown' }),
      answer(3, { comment: 'unknown too' }),
      answer(1, { comment: 'of another client', iss: 'https://other.example' }),
    ]);
    const keys = await rows(
      `select k.patient, count(*) as number from contents c join data_keys k on k.id = c.key where c.kind = 'comment' group by k.id, k.patient`,
    );
    expect(keys.map(({ patient, number }) => [patient, Number(number)]).sort()).toEqual([
      [null, 1],
      [null, 1],
      [null, 1],
      ['patient-pseudonym', 1],
    ]);
    expect((await store().answersTo(uuid(2))).map(({ comment }) => comment)).toEqual(['unknown']);
  });
}

function describeErasing(context: Context): void {
  const { store, rows } = context;

  it('is gone with its key once its patient is forgotten, with comments, and nobody else is', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().saveDecision(decision(2, { patient: 'other', cards: [card(2)] }), CONTENT);
    await store().saveFeedback([answer(1, { comment: 'mine' }), answer(2, { comment: 'theirs' })]);
    const forgotten = await store().forget('patient-pseudonym');
    expect(forgotten).toEqual({ contents: 2, hadKey: true, wiped: true });
    expect(await store().content(uuid(1))).toBeUndefined();
    expect(await store().answersTo(uuid(1))).toEqual([{ ...answer(1), commentUnreadable: true }]);
    expect(await store().content(uuid(2))).toEqual(CONTENT);
    expect(await store().answersTo(uuid(2))).toEqual([answer(2, { comment: 'theirs' })]);
    expect(await rows('select patient from data_keys')).toEqual([{ patient: 'other' }]);
    // The record stays, as a pseudonym, and the chain still verifies.
    expect(await store().decision(uuid(1))).toEqual(decision(1));
    expect(await store().verify()).toMatchObject({ breaks: [] });
  });

  it('finds also the comment that came before the decision told whose card it was', async () => {
    await store().saveFeedback([answer(1, { comment: 'early' })]);
    await store().saveDecision(decision(1));
    expect(await store().forget('patient-pseudonym')).toMatchObject({ contents: 1, hadKey: true });
    expect(await store().answersTo(uuid(1))).toEqual([{ ...answer(1), commentUnreadable: true }]);
    expect(await countOf(context, 'data_keys')).toBe(0);
    expect(await store().verify()).toMatchObject({ breaks: [] });
  });

  it('can be asked for a patient of whom nothing is kept, and says so', async () => {
    expect(await store().forget('nobody')).toEqual({ contents: 0, hadKey: false, wiped: true });
    expect(await store().verify()).toMatchObject({ entries: 1, breaks: [] });
  });

  it('begins anew when the patient comes again', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().forget('patient-pseudonym');
    await store().saveDecision(decision(2), CONTENT);
    expect(await store().content(uuid(2))).toEqual(CONTENT);
    expect(await store().content(uuid(1))).toBeUndefined();
  });
}

function describePruning(context: Context): void {
  const { store, reopen } = context;

  it('goes when its time is past, with its key when that was the last of the patient', async () => {
    await store().saveDecision(decision(1), CONTENT);
    await store().saveDecision(decision(2, { at: '2026-11-24T12:00:00.000Z' }), CONTENT);
    await store().saveDecision(decision(3, { patient: 'other', cards: [] }), CONTENT);
    await store().saveFeedback([answer(9, { comment: 'unclaimed' })]);
    // 12 hours after 10:00, to the millisecond.
    expect(await store().prune(new Date(LATER.getTime() - 1))).toMatchObject({ contents: 0, keys: 0 });
    expect(await store().prune(LATER)).toMatchObject({ contents: 2, keys: 1, decisions: 0, answers: 0 });
    expect(await store().content(uuid(1))).toBeUndefined();
    expect(await store().content(uuid(2))).toEqual(CONTENT);
    expect(await countOf(context, 'data_keys')).toBe(2);
    expect(await store().prune(new Date('2026-11-26T00:00:00Z'))).toMatchObject({ contents: 2, keys: 2 });
    expect(await store().answersTo(uuid(9))).toEqual([{ ...answer(9), commentUnreadable: true }]);
    expect(await store().verify()).toMatchObject({ breaks: [] });
  });

  it('takes records along where they have a time, with all that hangs on them', async () => {
    await reopen({ keepRecordDays: 30 });
    const old = { at: '2026-10-01T10:00:00.000Z', patient: 'other' };
    await store().saveDecision(decision(1, old), CONTENT);
    await store().saveDecision(decision(2));
    await store().saveFeedback([
      answer(1, { receivedAt: '2026-10-01T10:01:00.000Z', comment: 'old' }),
      answer(2),
    ]);
    await store().saveDifference({ decision: uuid(1), at: old.at, candidateHash: 'c', kind: 'timeout' });
    expect(await store().prune(LATER)).toEqual({
      contents: 2,
      keys: 1,
      tokens: 0,
      decisions: 1,
      answers: 1,
      differences: 1,
    });
    expect(await store().decision(uuid(1))).toBeUndefined();
    expect(await store().answersTo(uuid(1))).toEqual([]);
    expect(await store().decision(uuid(2))).toEqual(decision(2));
    expect((await store().countsByRule())[0]).toMatchObject({ fired: 1, shown: 1, answered: 1 });
    expect(await store().verify()).toMatchObject({ breaks: [] });
  });

  it('keeps records for good where they have none', async () => {
    await store().saveDecision(decision(1));
    expect(await store().prune(new Date('2126-01-01T00:00:00Z'))).toMatchObject({ decisions: 0 });
    expect(await store().decision(uuid(1))).toEqual(decision(1));
  });

  it('goes on over many at once', async () => {
    const many = Array.from({ length: 450 }, (_, index) => index);
    await Promise.all(many.map((id) => store().saveDecision(decision(id, { patient: `p${id}` }), CONTENT)));
    expect(await store().prune(LATER)).toMatchObject({ contents: 450, keys: 450 });
    expect(await store().verify()).toMatchObject({ breaks: [] });
  });
}
