import type { Kysely, Selectable } from 'kysely';
import { contentHash } from '../base/hash.js';
import { sortedUnique } from '../base/order.js';
import { sha256 } from './chain-entry.js';
import type { Covered } from './chain-entry.js';
import type { CommentSeal } from './comment-seal.js';
import type { Contents } from './contents.js';
import type { FeedbackItem, KeptAnswer } from './store.js';
import type { Tables } from './tables.js';

type Row = Selectable<Tables['feedback']>;

/** What comments are kept with. */
export interface CommentKeeping {
  readonly contents: Contents;
  readonly comments: CommentSeal;
}

/** The text stands among the contents. */
const AMONG_CONTENTS = 'v2';

export async function keepAnswer(
  db: Kysely<Tables>,
  item: FeedbackItem,
  { contents, comments }: CommentKeeping,
): Promise<readonly Covered[]> {
  const { card, iss, service, outcome, at, reason, comment, receivedAt } = item;
  const row: Row = {
    digest: answerDigest(item, comments),
    card,
    iss,
    service,
    outcome,
    at,
    accepted_suggestions: JSON.stringify(sortedUnique(item.acceptedSuggestions)),
    reason_system: reason?.system ?? null,
    reason_code: reason?.code ?? null,
    comment: comment === undefined ? null : AMONG_CONTENTS,
    received_at: receivedAt,
  };
  const { numInsertedOrUpdatedRows } = await db
    .insertInto('feedback')
    .values(row)
    .onConflict((conflict) => conflict.column('digest').doNothing())
    .executeTakeFirst();
  if (numInsertedOrUpdatedRows === 0n) return [];
  const kept = {
    kind: 'feedback',
    of: row.digest,
    digest: answerRowDigest(row),
    moment: receivedAt,
  } as const;
  if (comment === undefined) return [kept];
  const patient = await patientOf(db, item);
  const bytes = Buffer.from(comment, 'utf8');
  return [kept, ...(await contents.put(db, { kind: 'comment', of: row.digest, patient, bytes }, receivedAt))];
}

/** Whose card it was: known once its decision is kept, and only from its own client and service. */
async function patientOf(
  db: Kysely<Tables>,
  { card, iss, service }: FeedbackItem,
): Promise<string | undefined> {
  const row = await db
    .selectFrom('cards')
    .innerJoin('decisions', 'decisions.id', 'cards.decision')
    .select('decisions.patient')
    .where('cards.uuid', '=', card)
    .where('decisions.iss', '=', iss)
    .where('decisions.service', '=', service)
    .limit(1)
    .executeTakeFirst();
  return row?.patient;
}

/** The same for the same answer, however often and to whichever process it is sent. */
function answerDigest(item: FeedbackItem, comments: CommentSeal): string {
  const { card, iss, service, outcome, at, reason, comment, acceptedSuggestions } = item;
  return contentHash({
    card,
    iss,
    service,
    outcome,
    at,
    acceptedSuggestions: sortedUnique(acceptedSuggestions),
    reason: reason ?? null,
    comment: comment === undefined ? null : comments.digest(comment),
  });
}

/** What the chain holds an answer to: all of its row but a comment of the first version, which may be erased. */
export function answerRowDigest(row: Row): string {
  const { digest, card, iss, service, outcome, at, comment, received_at: receivedAt } = row;
  const { accepted_suggestions: accepted, reason_system: system, reason_code: code } = row;
  const form = comment?.slice(0, AMONG_CONTENTS.length) ?? null;
  return sha256(
    JSON.stringify([digest, card, iss, service, outcome, at, accepted, system, code, form, receivedAt]),
  );
}

export async function answersTo(
  db: Kysely<Tables>,
  card: string,
  keeping: CommentKeeping,
): Promise<readonly KeptAnswer[]> {
  const rows = await db
    .selectFrom('feedback')
    .selectAll()
    .where('card', '=', card)
    .orderBy('at')
    .orderBy('digest')
    .execute();
  return await Promise.all(rows.map((row) => readAnswer(db, row, keeping)));
}

export async function readAnswer(db: Kysely<Tables>, row: Row, keeping: CommentKeeping): Promise<KeptAnswer> {
  const { card, iss, service, at, reason_system: system, reason_code: code } = row;
  return {
    card,
    outcome: row.outcome as KeptAnswer['outcome'],
    at,
    acceptedSuggestions: JSON.parse(row.accepted_suggestions) as readonly string[],
    ...(code !== null && { reason: { ...(system !== null && { system }), code } }),
    ...(await readComment(db, row, keeping)),
    iss,
    service,
    receivedAt: row.received_at,
  };
}

async function readComment(
  db: Kysely<Tables>,
  { digest, comment, card }: Row,
  { contents, comments }: CommentKeeping,
): Promise<Pick<KeptAnswer, 'comment' | 'commentUnreadable'>> {
  if (comment === null) return {};
  const text =
    comment === AMONG_CONTENTS
      ? (await contents.open(db, 'comment', digest))?.toString('utf8')
      : comments.openFirst(comment, card);
  return text === undefined ? { commentUnreadable: true } : { comment: text };
}
