import type { Kysely, Selectable } from 'kysely';
import { contentHash } from '../base/hash.js';
import { sortedUnique } from '../base/order.js';
import type { CommentSeal } from './comment-seal.js';
import type { FeedbackItem, KeptAnswer } from './store.js';
import type { Tables } from './tables.js';

export async function keepAnswer(db: Kysely<Tables>, item: FeedbackItem, seal: CommentSeal): Promise<void> {
  const { card, iss, service, outcome, at, reason, comment, receivedAt } = item;
  const row = {
    digest: answerDigest(item, seal),
    card,
    iss,
    service,
    outcome,
    at,
    accepted_suggestions: JSON.stringify(sortedUnique(item.acceptedSuggestions)),
    reason_system: reason?.system ?? null,
    reason_code: reason?.code ?? null,
    comment: comment === undefined ? null : seal.seal(comment, card),
    received_at: receivedAt,
  };
  await db
    .insertInto('feedback')
    .values(row)
    .onConflict((conflict) => conflict.column('digest').doNothing())
    .execute();
}

/** The same for the same answer, however often and to whichever process it is sent. */
function answerDigest(item: FeedbackItem, seal: CommentSeal): string {
  const { card, iss, service, outcome, at, reason, comment, acceptedSuggestions } = item;
  return contentHash({
    card,
    iss,
    service,
    outcome,
    at,
    acceptedSuggestions: sortedUnique(acceptedSuggestions),
    reason: reason ?? null,
    comment: comment === undefined ? null : seal.digest(comment),
  });
}

export async function answersTo(
  db: Kysely<Tables>,
  card: string,
  seal: CommentSeal,
): Promise<readonly KeptAnswer[]> {
  const rows = await db
    .selectFrom('feedback')
    .selectAll()
    .where('card', '=', card)
    .orderBy('at')
    .orderBy('digest')
    .execute();
  return rows.map((row) => readAnswer(row, seal));
}

function readAnswer(row: Selectable<Tables['feedback']>, seal: CommentSeal): KeptAnswer {
  const { card, iss, service, at, reason_system: system, reason_code: code } = row;
  return {
    card,
    outcome: row.outcome as KeptAnswer['outcome'],
    at,
    acceptedSuggestions: JSON.parse(row.accepted_suggestions) as readonly string[],
    ...(code !== null && { reason: { ...(system !== null && { system }), code } }),
    ...readComment(row, seal),
    iss,
    service,
    receivedAt: row.received_at,
  };
}

function readComment(
  { comment, card }: Selectable<Tables['feedback']>,
  seal: CommentSeal,
): Pick<KeptAnswer, 'comment' | 'commentUnreadable'> {
  if (comment === null) return {};
  const text = seal.open(comment, card);
  return text === undefined ? { commentUnreadable: true } : { comment: text };
}
