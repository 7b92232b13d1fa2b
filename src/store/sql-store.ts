import type { KeyObject } from 'node:crypto';
import type { Kysely } from 'kysely';
import { acknowledgedBy } from './acknowledgements.js';
import { newCommentSeal } from './comment-seal.js';
import { commitTogether } from './commit-together.js';
import type { Write } from './commit-together.js';
import { countsByRule, unmappedTotals } from './counts.js';
import { keepDecision, readDecision } from './decision-rows.js';
import { answersTo, keepAnswer } from './feedback-rows.js';
import { groupCommit } from './group-commit.js';
import { migrate } from './migrations.js';
import type { Store } from './store.js';
import type { Tables } from './tables.js';

/** A store in any database the query builder speaks to; brings its tables up to date first. */
export async function newStore(db: Kysely<Tables>, contentKey: KeyObject): Promise<Store> {
  await migrate(db);
  const seal = newCommentSeal(contentKey);
  const writes = groupCommit((group: readonly Write[]) => commitTogether(db, group));
  return {
    saveDecision: (record) => writes.add((transaction) => keepDecision(transaction, record)),
    saveFeedback: async (items) => {
      await Promise.all(
        items.map((item) => writes.add((transaction) => keepAnswer(transaction, item, seal))),
      );
    },
    decision: (id) => readDecision(db, id),
    answersTo: (card) => answersTo(db, card, seal),
    acknowledgedBy: (patient) => acknowledgedBy(db, patient),
    countsByRule: () => countsByRule(db),
    unmappedTotals: () => unmappedTotals(db),
    close: async () => {
      await writes.close();
      await db.destroy();
    },
  };
}
