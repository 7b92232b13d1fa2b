import type { Kysely } from 'kysely';
import { sortedUnique } from '../base/order.js';
import type { Tables } from './tables.js';

/**
 * What a patient's surgeons have answered. An answer counts for a card of its own client and service only; and not for
 * a card id that was given out for two patients or with two hashes, since nobody knows which of them was answered.
 */
export async function acknowledgedBy(db: Kysely<Tables>, patient: string): Promise<readonly string[]> {
  const rows = await db
    .selectFrom('cards')
    .innerJoin('decisions', 'decisions.id', 'cards.decision')
    .select('cards.acknowledgement')
    .distinct()
    .where('decisions.patient', '=', patient)
    .where('cards.acknowledgement', 'is not', null)
    .where(({ exists, selectFrom }) =>
      exists(
        selectFrom('feedback')
          .select('feedback.digest')
          .whereRef('feedback.card', '=', 'cards.uuid')
          .whereRef('feedback.iss', '=', 'decisions.iss')
          .whereRef('feedback.service', '=', 'decisions.service'),
      ),
    )
    .where(({ not, exists, selectFrom }) =>
      not(
        exists(
          selectFrom('cards as others')
            .innerJoin('decisions as theirs', 'theirs.id', 'others.decision')
            .select('others.uuid')
            .whereRef('others.uuid', '=', 'cards.uuid')
            .where(({ or, eb, ref }) =>
              or([
                eb('theirs.patient', '!=', patient),
                eb('others.acknowledgement', 'is', null),
                eb('others.acknowledgement', '!=', ref('cards.acknowledgement')),
              ]),
            ),
        ),
      ),
    )
    .execute();
  return sortedUnique(rows.flatMap(({ acknowledgement }) => acknowledgement ?? []));
}
