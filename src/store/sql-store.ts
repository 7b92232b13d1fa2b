import type { KeyObject } from 'node:crypto';
import type { Kysely } from 'kysely';
import { acknowledgedBy } from './acknowledgements.js';
import { newCommentSeal } from './comment-seal.js';
import { commitTogether } from './commit-together.js';
import type { Write } from './commit-together.js';
import { newContents } from './contents.js';
import { countsByRule, unmappedTotals } from './counts.js';
import type { StoreDatabase } from './database.js';
import { keepDecision, readDecision, readDecisions } from './decision-rows.js';
import { keepDifference, readDifferences } from './difference-rows.js';
import { eraseContents } from './erasure.js';
import { readExported } from './exported-answers.js';
import { answersTo, keepAnswer } from './feedback-rows.js';
import type { CommentKeeping } from './feedback-rows.js';
import { groupCommit } from './group-commit.js';
import { newLedger } from './ledger.js';
import { migrate } from './migrations.js';
import { packContent, unpackContent } from './packed-content.js';
import { pruneSome, pruneSteps } from './pruning.js';
import { rulesOfCards } from './rules-of-cards.js';
import type { Forgotten, Pruned, Store } from './store.js';
import type { Tables } from './tables.js';
import { rememberUse } from './tokens.js';
import { readHeads, verifyChains } from './verification.js';

export interface StoreOptions {
  /** Wraps the keys contents are sealed under. */
  readonly contentKey: KeyObject;
  /** Names the chain of this process: no other may ever write under it. */
  readonly writer: string;
  /** How long contents and comments are kept; 0 keeps none. */
  readonly keepContentHours: number;
  /** How long records and answers are kept; 0 keeps them for good. */
  readonly keepRecordDays: number;
}

/** Has a write that somebody waits for committed with whatever waits too, and hands out what it found. */
type Commit = <Value>(write: (transaction: Kysely<Tables>) => Promise<Written<Value>>) => Promise<Value>;

interface Written<Value> {
  readonly value: Value;
  readonly covered: Awaited<ReturnType<Write>>;
}

/** A store in any database the query builder speaks to; brings its tables up to date first. */
export async function newStore(database: StoreDatabase, options: StoreOptions): Promise<Store> {
  await migrate(database);
  const { db } = database;
  const { contentKey, writer, keepContentHours, keepRecordDays } = options;
  const contents = newContents(contentKey, keepContentHours);
  const keeping: CommentKeeping = { contents, comments: newCommentSeal(contentKey) };
  const ledger = newLedger(writer);
  const writes = groupCommit((group: readonly Write[]) => commitTogether(db, group, ledger));
  const commit: Commit = async (write) => {
    let written: Awaited<ReturnType<typeof write>> | undefined;
    await writes.addUrgent(async (transaction) => {
      written = await write(transaction);
      return written.covered;
    });
    if (!written) throw new Error('expected a write that was done');
    return written.value;
  };
  return {
    saveDecision: async (record, content) => {
      const packed = content && keepContentHours > 0 ? packContent(content) : undefined;
      await writes.add((transaction) => keepDecision(transaction, { record, content: packed }, contents));
    },
    saveFeedback: async (items) => {
      await Promise.all(
        items.map((item) => writes.add((transaction) => keepAnswer(transaction, item, keeping))),
      );
    },
    saveDifference: (difference) => writes.add((transaction) => keepDifference(transaction, difference)),
    rememberToken: (iss, jti, untilMs) =>
      commit(async (transaction) => ({
        value: await rememberUse(transaction, { iss, jti, untilMs }),
        covered: [],
      })),
    forget: (patient) => forget(database, commit, patient),
    prune: (now) => prune(commit, now, keepRecordDays),
    decision: (id) => readDecision(db, id),
    content: async (id) => {
      const bytes = await contents.open(db, 'decision', id);
      return bytes && unpackContent(bytes);
    },
    decisions: (selection) => readDecisions(db, selection),
    answers: (selection) => readExported(db, selection, keeping),
    differences: () => readDifferences(db),
    answersTo: (card) => answersTo(db, card, keeping),
    rulesOfCards: (cards) => rulesOfCards(db, cards),
    acknowledgedBy: (patient) => acknowledgedBy(db, patient),
    countsByRule: () => countsByRule(db),
    unmappedTotals: () => unmappedTotals(db),
    verify: (heads = []) => verifyChains(db, heads),
    heads: () => readHeads(db),
    ping: () => ping(db),
    close: async () => {
      await writes.close();
      await db.destroy();
    },
  };
}

async function forget(database: StoreDatabase, commit: Commit, patient: string): Promise<Forgotten> {
  const { contents, hadKey } = await commit(async (transaction) => {
    const { covered, ...value } = await eraseContents(transaction, patient, new Date().toISOString());
    return { value, covered };
  });
  return { contents, hadKey, wiped: await database.wipeDeleted() };
}

async function prune(commit: Commit, now: Date, keepRecordDays: number): Promise<Pruned> {
  const pruned = { contents: 0, keys: 0, decisions: 0, answers: 0, differences: 0, tokens: 0 };
  for (const step of pruneSteps(now, keepRecordDays)) {
    for (;;) {
      const removed = await commit(async (transaction) => {
        const { removed: value, covered } = await pruneSome(transaction, step);
        return { value, covered };
      });
      if (removed === 0) break;
      pruned[step.of] += removed;
    }
  }
  return pruned;
}

/** A write that is undone again: a database that only reads, as after a failover, would refuse it. */
async function ping(db: Kysely<Tables>): Promise<void> {
  const transaction = await db.startTransaction().execute();
  try {
    await transaction.insertInto('tokens').values({ digest: 'ping', until: 0 }).execute();
  } finally {
    await transaction.rollback().execute();
  }
}
