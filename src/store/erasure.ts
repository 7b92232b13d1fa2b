import type { Kysely } from 'kysely';
import type { Covered } from './chain-entry.js';
import { contentName } from './contents.js';
import type { Tables } from './tables.js';

export interface Erased {
  readonly contents: number;
  readonly hadKey: boolean;
  readonly covered: readonly Covered[];
}

/** A comment of the first version whose text was destroyed. */
const EMPTIED = 'v1';

/** Destroys a patient's keys and everything sealed under them; the chain says so. */
export async function eraseContents(db: Kysely<Tables>, patient: string, at: string): Promise<Erased> {
  const unclaimed = await unclaimedKeys(db, patient);
  const own = await db.selectFrom('data_keys').select('id').where('patient', '=', patient).execute();
  const ids = [...own, ...unclaimed].map(({ id }) => id);
  const removed: { readonly kind: string; readonly of: string }[] = [];
  for (const id of ids) {
    // The contents first: the key is referred to. A content written meanwhile keeps the key from going, and the whole
    // is tried again.
    removed.push(
      ...(await db.deleteFrom('contents').where('key', '=', id).returning(['kind', 'of']).execute()),
    );
    await db.deleteFrom('data_keys').where('id', '=', id).execute();
  }
  const emptied = await emptyFirstComments(db, patient);
  const erased = removed.map(({ kind, of }) => contentName(kind, of));
  return {
    contents: removed.length + emptied,
    hadKey: ids.length > 0,
    covered: [
      ...erased.map((of) => ({ kind: 'erased', of, digest: '', moment: at }) as const),
      { kind: 'erasure', of: patient, digest: '', moment: at },
    ],
  };
}

/** Keys of comments that came before the decision that says whose card it was. */
async function unclaimedKeys(
  db: Kysely<Tables>,
  patient: string,
): Promise<readonly { readonly id: string }[]> {
  return await answersOfPatient(db, patient)
    .innerJoin('contents', 'contents.of', 'feedback.digest')
    .innerJoin('data_keys', 'data_keys.id', 'contents.key')
    .select('data_keys.id')
    .distinct()
    .where('contents.kind', '=', 'comment')
    .where('data_keys.patient', 'is', null)
    .execute();
}

/** Comments of the first version stand in their rows, sealed under the one key of all. */
async function emptyFirstComments(db: Kysely<Tables>, patient: string): Promise<number> {
  const answers = await answersOfPatient(db, patient)
    .select('feedback.digest')
    .distinct()
    .where('feedback.comment', 'like', `${EMPTIED}.%`)
    .execute();
  for (const { digest } of answers)
    await db.updateTable('feedback').set({ comment: EMPTIED }).where('digest', '=', digest).execute();
  return answers.length;
}

function answersOfPatient(db: Kysely<Tables>, patient: string) {
  return db
    .selectFrom('decisions')
    .innerJoin('cards', 'cards.decision', 'decisions.id')
    .innerJoin('feedback', (join) =>
      join
        .onRef('feedback.card', '=', 'cards.uuid')
        .onRef('feedback.iss', '=', 'decisions.iss')
        .onRef('feedback.service', '=', 'decisions.service'),
    )
    .where('decisions.patient', '=', patient);
}
