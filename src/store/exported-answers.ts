import type { Kysely } from 'kysely';
import { readAnswer } from './feedback-rows.js';
import type { CommentKeeping } from './feedback-rows.js';
import { feedbackPages } from './row-pages.js';
import type { DecisionRecord, ExportedAnswer, KeptAnswer, Selection } from './store.js';
import type { Tables } from './tables.js';

/** Answers in the order in which they came, each with the card it was an answer to. */
export async function* readExported(
  db: Kysely<Tables>,
  selection: Selection | undefined,
  keeping: CommentKeeping,
): AsyncGenerator<ExportedAnswer, void, undefined> {
  for await (const rows of feedbackPages(db, selection)) {
    for (const row of rows) {
      const answer = await readAnswer(db, row, keeping);
      const shown = await shownCard(db, answer);
      yield { ...answer, ...(shown && { shown }) };
    }
  }
}

/** The latest decision of the same client and service that gave this card out. */
async function shownCard(
  db: Kysely<Tables>,
  { card, iss, service }: KeptAnswer,
): Promise<ExportedAnswer['shown']> {
  const row = await db
    .selectFrom('cards')
    .innerJoin('decisions', 'decisions.id', 'cards.decision')
    .select('decisions.record')
    .where('cards.uuid', '=', card)
    .where('decisions.iss', '=', iss)
    .where('decisions.service', '=', service)
    .orderBy('decisions.at', 'desc')
    .limit(1)
    .executeTakeFirst();
  if (!row) return undefined;
  const record = JSON.parse(row.record) as DecisionRecord;
  const kept = record.cards.find(({ uuid }) => uuid === card);
  if (!kept) return undefined;
  const { rule, indicator } = kept;
  const version = record.outcomes.find((outcome) => outcome.rule === rule)?.ruleVersion;
  return {
    decision: record.id,
    rule,
    ...(version !== undefined && { ruleVersion: version }),
    indicator,
    hook: record.hook,
    user: record.user,
  };
}
