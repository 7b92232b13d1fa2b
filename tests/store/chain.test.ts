import { createHash } from 'node:crypto';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { openStore } from '../../src/store/open-store.js';
import type { ChainBreak } from '../../src/store/chain-entry.js';
import type { Store } from '../../src/store/store.js';
import { describeDatabases } from './databases.js';
import { answer, decision, TEST_KEY, uuid } from './records.js';

const CONTENT = { call: { patientId: 'patient-1' }, cards: [] };

// Truth throughout, where nothing else is named: integration decisions section 5 (one chain per writer; heads exported
// so that truncation shows); certification rules on auditing, 170.315(d)(2): alteration is detectable.
describeDatabases('the chain', ({ empty, rows, exec }) => {
  let path = '';
  let store: Store;
  const open = (writer: string): Promise<Store> => openStore({ path, contentKey: TEST_KEY, writer });
  beforeEach(async () => {
    path = await empty();
    store = await open('first');
    await store.saveDecision(decision(1), CONTENT);
    await store.saveDecision(decision(2));
    await store.saveFeedback([answer(1, { comment: 'a comment' }), answer(2)]);
    await store.saveDifference({
      decision: uuid(1),
      at: decision(1).at,
      candidateHash: 'c',
      kind: 'outcome',
    });
  });
  afterEach(() => store.close());

  it('has an entry for everything kept, each hashed together with the one before', async () => {
    const entries = await rows(path, 'select * from chain order by seq');
    expect(entries.map(({ kind: what }) => what)).toEqual([
      'decision',
      'content',
      'decision',
      'feedback',
      'content',
      'feedback',
      'difference',
    ]);
    // Truth: independent implementation, written from the description.
    let previous = '';
    for (const [index, entry] of entries.entries()) {
      const { writer, kind: what, of, digest, moment } = entry;
      const list = [writer, index + 1, what, of, digest, moment, previous];
      previous = createHash('sha256').update(JSON.stringify(list)).digest('hex');
      expect(entry).toMatchObject({ writer: 'first', hash: previous });
      expect(Number(entry['seq'])).toBe(index + 1);
    }
    const [kept] = await rows(path, `select record from decisions where id = '${uuid(1)}'`);
    expect(entries[0]).toMatchObject({
      of: uuid(1),
      moment: decision(1).at,
      digest: createHash('sha256').update(String(kept?.['record'])).digest('hex'),
    });
    expect(await store.verify()).toEqual({ entries: 7, writers: 1, breaks: [], more: false });
  });

  it('is one for each writer, and each goes on where it ended', async () => {
    const second = await open('second');
    await Promise.all([store.saveDecision(decision(3)), second.saveDecision(decision(4))]);
    await second.close();
    await store.close();
    store = await open('first');
    await store.saveDecision(decision(5));
    expect((await store.heads()).map(({ writer, seq }) => [writer, seq])).toEqual([
      ['first', 9],
      ['second', 1],
    ]);
    expect(await store.verify()).toMatchObject({ entries: 10, writers: 2, breaks: [] });
  });

  it('keeps the order in which a group was committed, and leaves no gap for what was refused', async () => {
    const results = await Promise.allSettled([
      store.saveDecision(decision(3)),
      store.saveDecision(decision(1, { hookInstance: uuid(77) })),
      store.saveDecision(decision(4)),
      store.saveDecision(decision(3)),
    ]);
    expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled', 'fulfilled']);
    const entries = await rows(path, 'select "of" from chain where seq > 7 order by seq');
    expect(entries.map(({ of }) => of)).toEqual([uuid(3), uuid(4)]);
    expect(await store.verify()).toMatchObject({ entries: 9, breaks: [] });
  });

  const one = (text: string): string => `${text} where id = '${uuid(1)}'`;
  const tampering: Readonly<Record<string, readonly [string, Partial<ChainBreak>]>> = {
    'a record that was changed': [
      one(`update decisions set record = replace(record, 'does-not-fire', 'fires')`),
      { writer: 'first', seq: 1, kind: 'decision', of: uuid(1) },
    ],
    'a record that was moved to another patient': [
      one(`update decisions set patient = 'other'`),
      {
        kind: 'decision',
        of: uuid(1),
        why: 'expected the columns that follow from the record, found others',
      },
    ],
    'a card that was exchanged': [
      `update cards set acknowledgement = 'sha256-other' where decision = '${uuid(1)}'`,
      { kind: 'decision', of: uuid(1), why: 'expected the cards that follow from the record, found others' },
    ],
    'a finding that was made one that was shown': [
      `update firings set shown = 1 - shown where decision = '${uuid(2)}'`,
      {
        kind: 'decision',
        of: uuid(2),
        why: 'expected the firings that follow from the record, found others',
      },
    ],
    'an answer that was turned round': [
      `update feedback set outcome = 'accepted' where card = '${uuid(2)}'`,
      { writer: 'first', seq: 6, kind: 'feedback' },
    ],
    'an answer that was taken away': [
      `delete from feedback where card = '${uuid(2)}'`,
      { writer: 'first', seq: 6, kind: 'feedback' },
    ],
    'an answer that was put in': [
      `insert into feedback (digest, card, iss, service, outcome, at, accepted_suggestions, received_at) values ('x', 'c', '-', 's', 'accepted', 't', '[]', 't')`,
      { kind: 'feedback', of: 'x', why: 'expected an entry that covers the row as it stands, found none' },
    ],
    'a content that was taken away': [
      `delete from contents where kind = 'decision'`,
      { writer: 'first', seq: 2, kind: 'content', of: `decision ${uuid(1)}` },
    ],
    'a content that was exchanged': [
      `update contents set sealed = 'AAAA' where kind = 'comment'`,
      { writer: 'first', seq: 5, kind: 'content' },
    ],
    'a difference that was changed': [
      `update differences set would = 'fires'`,
      { seq: 7, kind: 'difference' },
    ],
    'an entry that was changed': [
      `update chain set moment = '2020' where seq = 3`,
      { writer: 'first', seq: 3, why: 'expected the hash of this entry, found another' },
    ],
    'an entry that was taken out': [
      'delete from chain where seq = 4',
      { writer: 'first', seq: 5, why: 'expected entry 4 to follow, found entry 5' },
    ],
  };
  for (const [what, [text, expected]] of Object.entries(tampering)) {
    it(`tells of ${what}, with writer and place`, async () => {
      await exec(path, text);
      const { breaks } = await store.verify();
      expect(breaks).toContainEqual(expect.objectContaining(expected));
    });
  }

  it('tells of an end that was cut off, with what it covered, by a head written down before', async () => {
    const heads = await store.heads();
    expect(heads).toHaveLength(1);
    expect(await store.verify(heads)).toMatchObject({ breaks: [] });
    await store.saveDecision(decision(3));
    // An older head stays true.
    expect(await store.verify(heads)).toMatchObject({ breaks: [] });
    for (const table of ['chain where seq > 6', 'differences', `cards where decision = '${uuid(3)}'`])
      await exec(path, `delete from ${table}`);
    await exec(path, `delete from firings where decision = '${uuid(3)}'`);
    await exec(path, `delete from decisions where id = '${uuid(3)}'`);
    expect(await store.verify()).toMatchObject({ breaks: [] });
    expect((await store.verify(heads)).breaks).toEqual([
      {
        writer: 'first',
        seq: 7,
        kind: 'head',
        of: 'first',
        why: 'expected the entry of that head, found the chain cut off before it',
      },
    ]);
  });

  it('tells of a chain that was written anew, by a head written down before', async () => {
    const heads = await store.heads();
    await exec(path, `update chain set hash = 'other' where seq = 7`);
    expect((await store.verify(heads)).breaks).toContainEqual(
      expect.objectContaining({
        kind: 'head',
        seq: 7,
        why: 'expected the entry of that head, found another',
      }),
    );
  });

  it('tells some of very many breaks, and that there are more', async () => {
    await Promise.all(Array.from({ length: 150 }, (_, index) => store.saveFeedback([answer(100 + index)])));
    await exec(path, `update feedback set reason_code = 'x'`);
    const { breaks, more } = await store.verify();
    expect(breaks).toHaveLength(100);
    expect(more).toBe(true);
  });

  it('verifies while others write', async () => {
    const second = await open('second');
    const writing = Array.from({ length: 200 }, (_, index) =>
      second.saveDecision(decision(1000 + index), CONTENT),
    );
    const verified = await Promise.all([store.verify(), store.verify()]);
    await Promise.all(writing);
    expect(verified.map(({ breaks }) => breaks)).toEqual([[], []]);
    await second.close();
  });
});
